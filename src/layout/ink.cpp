#include "jigtrue/layout/artwork.hpp"

#include <algorithm>
#include <cmath>

#include "layout/flatten.hpp"

namespace jigtrue {
namespace {

using svg::kExtentTolerance_mm;

Vector2d at(const Vector2d& from, const PathSegment& curve, double t) {
  const double s = 1.0 - t;
  return s * s * s * from + 3.0 * s * s * t * curve.control_1 + 3.0 * s * t * t * curve.control_2 +
         t * t * t * curve.end;
}

void append_cubic(Polyline2d& line, const Vector2d& from, const PathSegment& curve, double tolerance_mm) {
  const int pieces = svg::curve_pieces(from, curve, tolerance_mm);
  for (int i = 1; i < pieces; ++i) line.push_back(at(from, curve, static_cast<double>(i) / pieces));
  line.push_back(curve.end);
}

// What a pen of half-axes `pen` / 2 does at corners and ends of a polyline. Directions are taken in the pen's own
// frame, where it is round: that is where SVG 1.1 (11.4) defines joins and caps.
class StrokeExtent {
 public:
  StrokeExtent(const Stroke& stroke, InkBox& box)
      : stroke_(stroke), half_(stroke.pen / 2.0), to_pen_(half_.inverse()), box_(box) {}

  void add(Polyline2d line, bool closed) {
    line.erase(std::unique(line.begin(), line.end()), line.end());
    if (closed && line.size() > 1 && line.front() == line.back()) line.pop_back();
    if (line.size() == 1) {
      dot(line.front());
      return;
    }
    const std::size_t n = line.size();
    for (std::size_t i = 1; i < n; ++i) edge(line[i - 1], line[i]);
    for (std::size_t i = 1; i + 1 < n; ++i) join(line[i - 1], line[i], line[i + 1]);
    if (closed && n > 1) {
      edge(line[n - 1], line[0]);
      join(line[n - 2], line[n - 1], line[0]);
      join(line[n - 1], line[0], line[1]);
    } else {
      cap(line[0], line[1]);
      cap(line[n - 1], line[n - 2]);
    }
  }

 private:
  // Unit direction in the pen's frame.
  [[nodiscard]] Vector2d direction(const Vector2d& from, const Vector2d& to) const {
    return (to_pen_ * (to - from)).normalized();
  }
  static Vector2d left_of(const Vector2d& d) { return {-d.y(), d.x()}; }

  void hold(const Vector2d& at, const Vector2d& in_pen) { box_.hold(at + half_ * in_pen); }

  void edge(const Vector2d& from, const Vector2d& to) {
    const Vector2d side = left_of(direction(from, to));
    for (const Vector2d& at : {from, to}) {
      hold(at, side);
      hold(at, -side);
    }
  }

  void round(const Vector2d& at) {
    const Vector2d reach(half_.row(0).norm(), half_.row(1).norm());  // of the ellipse
    box_.hold(at - reach);
    box_.hold(at + reach);
  }

  void join(const Vector2d& before, const Vector2d& at, const Vector2d& after) {
    if (stroke_.join == LineJoin::round) {
      round(at);
      return;
    }
    if (stroke_.join == LineJoin::bevel) return;
    const Vector2d in = direction(before, at);
    const Vector2d out = direction(at, after);
    const Vector2d tip = in - out;                                                // outward, of length 2 cos(angle / 2)
    const double sine = std::sqrt(std::max(0.0, 1.0 - tip.squaredNorm() / 4.0));  // sin(angle / 2)
    if (tip.norm() < 1e-9 || sine * stroke_.miter_limit < 1.0) return;
    hold(at, tip.normalized() / sine);
  }

  void cap(const Vector2d& end, const Vector2d& inner) {
    if (stroke_.cap == LineCap::round) round(end);
    if (stroke_.cap != LineCap::square) return;
    const Vector2d out = direction(inner, end);
    hold(end, out + left_of(out));
    hold(end, out - left_of(out));
  }

  void dot(const Vector2d& at) {
    if (stroke_.cap == LineCap::round) round(at);
    if (stroke_.cap != LineCap::square) return;
    for (const double sx : {-1.0, 1.0})
      for (const double sy : {-1.0, 1.0}) hold(at, {sx, sy});
  }

  const Stroke& stroke_;
  Matrix2d half_;
  Matrix2d to_pen_;
  InkBox& box_;
};

}  // namespace

int svg::curve_pieces(const Vector2d& from, const PathSegment& curve, double tolerance_mm) {
  // a chord over 1/n of the parameter is off by at most |B''| / (8 n^2); |B''| <= 6 times these (de Boor)
  const double bend = std::max((from - 2.0 * curve.control_1 + curve.control_2).norm(),
                               (curve.control_1 - 2.0 * curve.control_2 + curve.end).norm());
  return std::clamp(static_cast<int>(std::ceil(std::sqrt(0.75 * bend / tolerance_mm))), 1, 2000);
}

std::size_t svg::flattened_points(const SubPath& path, double tolerance_mm) {
  std::size_t points = 1;
  Vector2d from = path.start;
  for (const PathSegment& segment : path.segments) {
    points += segment.cubic ? static_cast<std::size_t>(curve_pieces(from, segment, tolerance_mm)) : 1;
    from = segment.end;
  }
  return points;
}

double Stroke::width_mm() const { return std::sqrt(std::abs(pen.determinant())); }

Polyline2d flattened(const SubPath& path, double tolerance_mm) {
  Polyline2d line = {path.start};
  for (const PathSegment& segment : path.segments) {
    const Vector2d from = line.back();
    if (segment.cubic)
      append_cubic(line, from, segment, tolerance_mm);
    else
      line.push_back(segment.end);
  }
  if (path.closed && line.size() > 1 && line.front() == line.back()) line.pop_back();
  return line;
}

namespace {

// A join's tip hangs on the directions at the corner, where a chord leans away from the curve: points hard by each end
// of a curve give them.
Polyline2d with_true_ends(const SubPath& path) {
  constexpr double kHardBy = 1e-3;
  Polyline2d line = {path.start};
  Vector2d from = path.start;
  for (const PathSegment& segment : path.segments) {
    if (segment.cubic) {
      line.push_back(at(from, segment, kHardBy));
      append_cubic(line, from, segment, kExtentTolerance_mm);
      line.back() = at(from, segment, 1.0 - kHardBy);
    }
    line.push_back(segment.end);
    from = segment.end;
  }
  if (path.closed && line.size() > 1 && line.front() == line.back()) line.pop_back();
  return line;
}

}  // namespace

InkBox ink_of(const InkShape& shape) {
  InkBox box;
  for (const SubPath& path : shape.outline) {
    const Polyline2d line = flattened(path, kExtentTolerance_mm);
    if (!shape.fill.empty() && line.size() > 1)
      for (const Vector2d& point : line) box.hold(point);
    if (!shape.stroke) continue;
    // a pen without width still draws its line
    if (shape.stroke->width_mm() > 1e-9)
      StrokeExtent(*shape.stroke, box).add(with_true_ends(path), path.closed);
    else if (line.size() > 1)
      for (const Vector2d& point : line) box.hold(point);
  }
  return box;
}

InkBox ink_of(const std::vector<InkShape>& shapes) {
  InkBox box;
  for (const InkShape& shape : shapes) box.hold(ink_of(shape));
  return box;
}

std::vector<InkShape> moved(const std::vector<InkShape>& shapes, const Vector2d& by_mm) {
  std::vector<InkShape> out = shapes;
  for (InkShape& shape : out) {
    for (SubPath& path : shape.outline) {
      path.start += by_mm;
      for (PathSegment& segment : path.segments) {
        segment.control_1 += by_mm;
        segment.control_2 += by_mm;
        segment.end += by_mm;
      }
    }
  }
  return out;
}

}  // namespace jigtrue
