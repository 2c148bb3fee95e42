#include "jigtrue/inspection/ink_raster.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr int kFiner = 16;           // lines so many times finer than rows; along a line ink is exact
constexpr double kMostPlaces = 2e6;  // bounds the memory of a drawing's raster
constexpr double kSpot_mm = 0.1;     // a beam's: common practice, no source

using Outlines = std::vector<Polyline2d>;

// Ink as stretches of lines across the drawing, each as far as it truly reaches: a fill that takes every pixel it
// touches would draw all ink wider than it is. y of drawings runs down, v up.
class InkLines {
 public:
  InkLines(double low_v_mm, double apart_mm, int count)
      : low_(low_v_mm), apart_(apart_mm), stretches_(static_cast<std::size_t>(count)) {}

  void draw(const InkShape& shape, double flat_mm) {
    Outlines lines;
    for (const SubPath& path : shape.outline) {
      lines.push_back(flattened(path, flat_mm));
      for (Vector2d& p : lines.back()) p.y() = -p.y();
    }
    if (!shape.fill.empty()) fill(lines, shape.even_odd);
    if (!shape.stroke) return;
    for (std::size_t i = 0; i < lines.size(); ++i) stroke(lines[i], shape.outline[i].closed, shape.stroke->width_mm());
  }

  // Columns as InkRaster has them.
  [[nodiscard]] cv::Mat1f coverage(double low_u_mm, double pitch_mm, cv::Size size) {
    cv::Mat1f out = cv::Mat1f::zeros(size);
    for (std::size_t line = 0; line < stretches_.size(); ++line) {
      float* row = out[static_cast<int>(line) / kFiner];
      for (const auto& [from, to] : united(stretches_[line]))
        add((from - low_u_mm) / pitch_mm + 0.5, (to - low_u_mm) / pitch_mm + 0.5, size.width, row);
    }
    return out;
  }

 private:
  using Stretch = std::pair<double, double>;  // u, mm
  struct Crossing {
    double u_mm = 0.0;
    int turn = 0;  // of the outline about what lies to the right
  };
  double low_;
  double apart_;
  std::vector<std::vector<Stretch>> stretches_;

  static std::vector<Stretch> united(std::vector<Stretch>& given) {
    std::sort(given.begin(), given.end());
    std::vector<Stretch> out;
    for (const Stretch& each : given) {
      if (out.empty() || each.first > out.back().second)
        out.push_back(each);
      else
        out.back().second = std::max(out.back().second, each.second);
    }
    return out;
  }

  static void add(double from, double to, int columns, float* row) {
    const int first = std::clamp(static_cast<int>(from), 0, columns - 1);
    const int last = std::clamp(static_cast<int>(to), 0, columns - 1);
    for (int column = first; column <= last; ++column)
      row[column] += static_cast<float>(
          std::max(0.0, std::min(to, column + 1.0) - std::max(from, static_cast<double>(column))) / kFiner);
  }

  // Each outline is closed.
  void fill(const Outlines& outlines, bool even_odd) {
    std::vector<std::vector<Crossing>> crossings(stretches_.size());
    for (const Polyline2d& outline : outlines)
      for (std::size_t i = 0; i < outline.size(); ++i) cross(outline[i], outline[(i + 1) % outline.size()], crossings);
    for (std::size_t line = 0; line < crossings.size(); ++line) {
      auto& here = crossings[line];
      std::sort(here.begin(), here.end(), [](const Crossing& a, const Crossing& b) { return a.u_mm < b.u_mm; });
      int turns = 0;
      for (std::size_t i = 0; i + 1 < here.size(); ++i) {
        turns += here[i].turn;
        const bool inside = even_odd ? turns % 2 != 0 : turns != 0;
        if (inside) stretches_[line].emplace_back(here[i].u_mm, here[i + 1].u_mm);
      }
    }
  }

  void cross(const Vector2d& a, const Vector2d& b, std::vector<std::vector<Crossing>>& crossings) const {
    const int turn = a.y() < b.y() ? 1 : -1;
    const Vector2d& lower = turn > 0 ? a : b;
    const Vector2d& upper = turn > 0 ? b : a;
    const auto line_from = [&](double v) {
      return std::clamp(static_cast<int>(std::ceil((v - low_) / apart_)), 0, static_cast<int>(crossings.size()));
    };
    for (int line = line_from(lower.y()); line < line_from(upper.y()); ++line) {
      const double share = (low_ + line * apart_ - lower.y()) / (upper.y() - lower.y());
      crossings[static_cast<std::size_t>(line)].push_back({lower.x() + share * (upper.x() - lower.x()), turn});
    }
  }

  // Joins and ends are rounded: a beam is.
  void stroke(const Polyline2d& line, bool closed, double width_mm) {
    constexpr int kCorners = 24;  // of a circle as a polygon: off by a hundredth of the radius
    const double half = std::max(width_mm, kSpot_mm) / 2.0;
    const std::size_t count = line.size() + (closed ? 1 : 0);
    for (std::size_t i = 0; i < count; ++i) {
      const Vector2d& here = line[i % line.size()];
      Polyline2d spot;
      spot.reserve(kCorners);
      for (int k = 0; k < kCorners; ++k)
        spot.emplace_back(here +
                          half * Vector2d(std::cos(2.0 * kPi * k / kCorners), std::sin(2.0 * kPi * k / kCorners)));
      fill({spot}, false);
      if (i == 0 || (here - line[i - 1]).norm() < 1e-9) continue;
      const Vector2d along = (here - line[i - 1]).normalized();
      const Vector2d side = half * Vector2d(-along.y(), along.x());
      fill({{line[i - 1] + side, line[i - 1] - side, here - side, here + side}}, false);
    }
  }
};

}  // namespace

float InkRaster::at(const Vector2d& uv_mm) const {
  const double x = (uv_mm.x() - low_mm.x()) / pitch_mm;
  const double y = (uv_mm.y() - low_mm.y()) / pitch_mm;
  const int column = static_cast<int>(std::floor(x));
  const int row = static_cast<int>(std::floor(y));
  if (column < 0 || row < 0 || column + 1 >= coverage.cols || row + 1 >= coverage.rows) return 0.0F;
  const auto fx = static_cast<float>(x - column);
  const auto fy = static_cast<float>(y - row);
  const float* upper = coverage[row] + column;
  const float* lower = coverage[row + 1] + column;
  return (1.0F - fy) * ((1.0F - fx) * upper[0] + fx * upper[1]) + fy * ((1.0F - fx) * lower[0] + fx * lower[1]);
}

InkRaster ink_raster(const std::vector<Pass>& passes, double pitch_mm) {
  const InkBox drawn = ink_of(passes);
  if (drawn.empty()) throw std::logic_error("ink_raster: there is no ink");
  InkRaster raster;
  raster.ink.hold({drawn.low.x(), -drawn.high.y()});
  raster.ink.hold({drawn.high.x(), -drawn.low.y()});
  const Vector2d span = raster.ink.size().array() + 2.0 * (kRim_mm + pitch_mm);
  raster.pitch_mm = std::max(pitch_mm, std::sqrt(span.prod() / kMostPlaces));
  const int columns = static_cast<int>(std::ceil(span.x() / raster.pitch_mm));
  const int rows = static_cast<int>(std::ceil(span.y() / raster.pitch_mm));
  raster.low_mm = raster.ink.low.array() - kRim_mm - raster.pitch_mm;
  // the first line lies half a row, less half the lines' distance, before the first row's middle
  const double apart = raster.pitch_mm / kFiner;
  InkLines lines(raster.low_mm.y() - (raster.pitch_mm - apart) / 2.0, apart, rows * kFiner);
  for (const Pass& pass : passes)
    for (const InkShape& shape : pass.shapes) lines.draw(shape, apart / 2.0);
  raster.coverage = lines.coverage(raster.low_mm.x(), raster.pitch_mm, cv::Size(columns, rows));
  return raster;
}

InkRaster turned_round(const InkRaster& raster) {
  constexpr int kBothWays = -1;  // as the library has it
  InkRaster out = raster;
  out.coverage = cv::Mat1f();  // a copy of its own: matrices share their pixels
  cv::flip(raster.coverage, out.coverage, kBothWays);
  out.low_mm = -raster.low_mm - raster.pitch_mm * Vector2d(raster.coverage.cols - 1, raster.coverage.rows - 1);
  out.ink.low = -raster.ink.high;
  out.ink.high = -raster.ink.low;
  return out;
}

InkRaster blurred(const InkRaster& raster, const Vector2d& sigma_mm) {
  InkRaster out = raster;
  out.coverage = cv::Mat1f();  // a copy of its own: matrices share their pixels
  const Vector2d sigma = (sigma_mm / raster.pitch_mm).cwiseMax(0.05);
  cv::GaussianBlur(raster.coverage, out.coverage, cv::Size(), sigma.x(), sigma.y(), cv::BORDER_CONSTANT);
  return out;
}

}  // namespace jigtrue
