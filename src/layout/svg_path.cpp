#include "layout/svg_path.hpp"

#include <algorithm>
#include <cmath>

#include "layout/drawing_limits.hpp"

namespace jigtrue::svg {
namespace {

PathSegment line_to(const Vector2d& end) { return {false, end, end, end}; }
PathSegment curve_to(const Vector2d& c1, const Vector2d& c2, const Vector2d& end) { return {true, c1, c2, end}; }

// An arc of the unit circle under `frame`, as cubics: control points at 4/3 tan(step / 4) along the tangents.
void append_arc(SubPath& path, const Affine& frame, double from_rad, double sweep_rad) {
  const int pieces = std::max(1, static_cast<int>(std::ceil(std::abs(sweep_rad) / (kPi / 4.0) - 1e-9)));
  const double step = sweep_rad / pieces;
  const double reach = 4.0 / 3.0 * std::tan(step / 4.0);
  for (int i = 0; i < pieces; ++i) {
    const double a = from_rad + i * step;
    const double b = a + step;
    const Vector2d at_a(std::cos(a), std::sin(a));
    const Vector2d at_b(std::cos(b), std::sin(b));
    path.segments.push_back(curve_to(frame * Vector2d(at_a.x() - reach * at_a.y(), at_a.y() + reach * at_a.x()),
                                     frame * Vector2d(at_b.x() + reach * at_b.y(), at_b.y() - reach * at_b.x()),
                                     frame * at_b));
  }
}

struct ArcFlags {
  bool large = false;
  bool sweep = false;
};

// From end points to centre: SVG 1.1, appendix F.6.5 and F.6.6.
void append_elliptical_arc(SubPath& path, const Vector2d& from, Vector2d radii, double turn_rad, ArcFlags flags,
                           const Vector2d& to) {
  radii = radii.cwiseAbs();
  if (from == to) return;
  if (radii.minCoeff() == 0.0) {
    path.segments.push_back(line_to(to));
    return;
  }
  const Eigen::Rotation2Dd turn(turn_rad);
  const Vector2d half = turn.inverse() * ((from - to) / 2.0);
  const double excess = half.cwiseQuotient(radii).squaredNorm();
  if (excess > 1.0) radii *= std::sqrt(excess);
  const Vector2d unit_half = half.cwiseQuotient(radii);
  const double squared = unit_half.squaredNorm();
  const double away = std::sqrt(std::max(0.0, (1.0 - squared) / squared));
  const double sign = flags.large == flags.sweep ? -1.0 : 1.0;
  const Vector2d unit_centre = sign * away * Vector2d(unit_half.y(), -unit_half.x());
  const Vector2d start = unit_half - unit_centre;
  const Vector2d end = -unit_half - unit_centre;
  const double from_rad = std::atan2(start.y(), start.x());
  double sweep = std::atan2(end.y(), end.x()) - from_rad;
  if (flags.sweep && sweep < 0.0) sweep += 2.0 * kPi;
  if (!flags.sweep && sweep > 0.0) sweep -= 2.0 * kPi;
  Affine frame = Affine::Identity();
  frame.translate(Vector2d((from + to) / 2.0));
  frame.rotate(turn);
  frame.scale(radii);
  frame.translate(unit_centre);
  append_arc(path, frame, from_rad, sweep);
  path.segments.back().end = to;  // to the last digit
}

// Reads one path's data, command by command.
class PathReader {
 public:
  explicit PathReader(std::string_view text) : cursor_(text) {}

  std::optional<std::vector<SubPath>> read() {
    if (cursor_.at_end()) return paths_;
    if (cursor_.peek() != 'M' && cursor_.peek() != 'm') return std::nullopt;
    while (!cursor_.at_end()) {
      const char command = cursor_.peek();
      cursor_.advance();
      if (!run(command)) return std::nullopt;
    }
    return paths_;
  }

 private:
  bool run(char command) {
    const bool relative = command >= 'a';
    const char kind = relative ? static_cast<char>(command - 'a' + 'A') : command;
    if (kind == 'Z') {
      close();
      last_ = 'Z';
      return ++steps_ <= kLimits.path_segments;
    }
    bool first = true;
    do {
      if (!step(kind, relative, first)) return false;
      last_ = kind;
      first = false;
      if (++steps_ > kLimits.path_segments) return false;
      cursor_.skip_comma();
    } while (more_numbers());
    return true;
  }

  bool more_numbers() {
    const char c = cursor_.peek();
    return (c >= '0' && c <= '9') || c == '.' || c == '-' || c == '+';
  }

  bool step(char kind, bool relative, bool first) {
    const Vector2d base = relative ? here_ : Vector2d(Vector2d::Zero());
    switch (kind) {
      case 'M': {
        Vector2d to;
        if (!point(base, to)) return false;
        if (!first) {
          line(to);
          return true;
        }
        paths_.push_back({to, {}, false});
        here_ = to;
        fresh_ = false;
        return true;
      }
      case 'L': {
        Vector2d to;
        if (!point(base, to)) return false;
        line(to);
        return true;
      }
      case 'H':
      case 'V': {
        const auto value = cursor_.number();
        if (!value) return false;
        Vector2d to = here_;
        const int axis = kind == 'H' ? 0 : 1;
        to[axis] = base[axis] + *value;
        line(to);
        return true;
      }
      case 'C':
      case 'S':
        return cubic(base, kind == 'C');
      case 'Q':
      case 'T':
        return quadratic(base, kind == 'Q');
      case 'A':
        return arc(base);
      default:
        return false;
    }
  }

  // `whole`: with its first control point, which else mirrors the last one of the curve before.
  bool cubic(const Vector2d& base, bool whole) {
    Vector2d c1 = here_;
    Vector2d c2;
    Vector2d to;
    if (last_ == 'C' || last_ == 'S') c1 = 2.0 * here_ - control_;
    if (whole && !point(base, c1)) return false;
    if (!point(base, c2) || !point(base, to)) return false;
    curve(c1, c2, to);
    control_ = c2;
    return true;
  }

  bool quadratic(const Vector2d& base, bool whole) {
    Vector2d c = here_;
    Vector2d to;
    if (last_ == 'Q' || last_ == 'T') c = 2.0 * here_ - control_;
    if (whole && !point(base, c)) return false;
    if (!point(base, to)) return false;
    curve(here_ + 2.0 / 3.0 * (c - here_), to + 2.0 / 3.0 * (c - to), to);
    control_ = c;
    return true;
  }

  bool arc(const Vector2d& base) {
    Vector2d radii;
    Vector2d to;
    if (!point(Vector2d::Zero(), radii)) return false;
    const auto turn_deg = cursor_.number();
    cursor_.skip_comma();
    const auto large = cursor_.flag();
    cursor_.skip_comma();
    const auto sweep = cursor_.flag();
    cursor_.skip_comma();
    if (!turn_deg || !large || !sweep || !point(base, to)) return false;
    append_elliptical_arc(current(), here_, radii, rad_from_deg(*turn_deg), {*large, *sweep}, to);
    here_ = to;
    return true;
  }

  bool point(const Vector2d& base, Vector2d& out) {
    const auto x = cursor_.number();
    cursor_.skip_comma();
    const auto y = cursor_.number();
    cursor_.skip_comma();
    if (!x || !y) return false;
    out = base + Vector2d(*x, *y);
    return out.cwiseAbs().maxCoeff() <= kLargestNumber;
  }

  // After a closed sub-path the next command starts a new one at the same point.
  SubPath& current() {
    if (fresh_) paths_.push_back({here_, {}, false});
    fresh_ = false;
    return paths_.back();
  }

  void line(const Vector2d& to) {
    current().segments.push_back(line_to(to));
    here_ = to;
  }

  void curve(const Vector2d& c1, const Vector2d& c2, const Vector2d& to) {
    current().segments.push_back(curve_to(c1, c2, to));
    here_ = to;
  }

  void close() {
    current().closed = true;
    here_ = paths_.back().start;
    fresh_ = true;
  }

  Cursor cursor_;
  std::vector<SubPath> paths_;
  Vector2d here_ = Vector2d::Zero();
  Vector2d control_ = Vector2d::Zero();
  char last_ = 'M';
  bool fresh_ = false;
  std::size_t steps_ = 0;
};

}  // namespace

std::optional<std::vector<SubPath>> path_data(std::string_view text) { return PathReader(text).read(); }

SubPath polygon(const std::vector<Vector2d>& points, bool closed) {
  SubPath path{points.front(), {}, closed};
  for (std::size_t i = 1; i < points.size(); ++i) path.segments.push_back(line_to(points[i]));
  return path;
}

SubPath ellipse(const Vector2d& centre, const Vector2d& radii) {
  Affine frame = Affine::Identity();
  frame.translate(centre);
  frame.scale(radii);
  SubPath path{centre + Vector2d(radii.x(), 0.0), {}, true};
  append_arc(path, frame, 0.0, 2.0 * kPi);
  return path;
}

SubPath rounded_rectangle(const Vector2d& low, const Vector2d& size, const Vector2d& radii) {
  const Vector2d high = low + size;
  if (radii.minCoeff() <= 0.0) return polygon({low, {high.x(), low.y()}, high, {low.x(), high.y()}}, true);
  const Vector2d r = radii.cwiseMin(size / 2.0);
  SubPath path{{low.x() + r.x(), low.y()}, {}, true};
  const auto corner = [&](double x, double y, double from_rad) {
    Affine frame = Affine::Identity();
    frame.translate(Vector2d(x, y));
    frame.scale(r);
    path.segments.push_back(line_to(frame * Vector2d(std::cos(from_rad), std::sin(from_rad))));
    append_arc(path, frame, from_rad, kPi / 2.0);
  };
  corner(high.x() - r.x(), low.y() + r.y(), -kPi / 2.0);
  corner(high.x() - r.x(), high.y() - r.y(), 0.0);
  corner(low.x() + r.x(), high.y() - r.y(), kPi / 2.0);
  corner(low.x() + r.x(), low.y() + r.y(), kPi);
  return path;
}

SubPath transformed(const SubPath& path, const Affine& by) {
  SubPath out{by * path.start, {}, path.closed};
  out.segments.reserve(path.segments.size());
  for (const PathSegment& segment : path.segments)
    out.segments.push_back({segment.cubic, by * segment.control_1, by * segment.control_2, by * segment.end});
  return out;
}

}  // namespace jigtrue::svg
