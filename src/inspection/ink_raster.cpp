#include "jigtrue/inspection/ink_raster.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr int kFiner = 3;  // the raster is drawn so many times finer, then averaged
constexpr double kMostPlaces = 16e6;
constexpr double kSpot_mm = 0.1;

// Draws at sub-pixel places of a fine grid; y of drawings runs down, v up.
class InkDrawer {
 public:
  InkDrawer(const Vector2d& low_mm, double pitch_mm, cv::Size size)
      : low_(low_mm), pitch_(pitch_mm), ink_(cv::Mat1b::zeros(size)) {}

  void draw(const InkShape& shape) {
    if (!shape.fill.empty()) fill(shape);
    if (shape.stroke)
      for (const SubPath& path : shape.outline) stroke(path, *shape.stroke);
  }
  [[nodiscard]] const cv::Mat1b& ink() const { return ink_; }

 private:
  static constexpr int kShift = 6;

  [[nodiscard]] cv::Point at(const Vector2d& p) const {
    const double scale = static_cast<double>(1 << kShift) / pitch_;
    return {static_cast<int>(std::lround((p.x() - low_.x()) * scale)),
            static_cast<int>(std::lround((-p.y() - low_.y()) * scale))};
  }

  void fill(const InkShape& shape) {
    std::vector<std::vector<cv::Point>> outlines;
    for (const SubPath& path : shape.outline) {
      std::vector<cv::Point> points;
      for (const Vector2d& p : flattened(path, pitch_ / 4.0)) points.push_back(at(p));
      if (points.size() > 2) outlines.push_back(std::move(points));
    }
    if (outlines.empty()) return;
    if (shape.even_odd || outlines.size() == 1) {
      cv::fillPoly(ink_, outlines, cv::Scalar(255), cv::LINE_8, kShift);
      return;
    }
    cv::Mat1s winding = cv::Mat1s::zeros(ink_.size());
    for (const auto& outline : outlines) {
      cv::Mat1b one = cv::Mat1b::zeros(ink_.size());
      cv::fillPoly(one, std::vector<std::vector<cv::Point>>{outline}, cv::Scalar(1), cv::LINE_8, kShift);
      double area = 0.0;
      for (std::size_t i = 0; i < outline.size(); ++i) {
        const cv::Point& a = outline[i];
        const cv::Point& b = outline[(i + 1) % outline.size()];
        area += static_cast<double>(a.x) * b.y - static_cast<double>(a.y) * b.x;
      }
      cv::add(winding, cv::Scalar(area < 0.0 ? -1 : 1), winding, one);
    }
    ink_.setTo(255, winding != 0);
  }

  // Joins and ends are rounded: a beam is.
  void stroke(const SubPath& path, const Stroke& pen) {
    Polyline2d line = flattened(path, pitch_ / 4.0);
    if (path.closed) line.push_back(line.front());
    const double half = std::max(pen.width_mm(), kSpot_mm) / 2.0;
    const int radius = std::max(1, static_cast<int>(std::lround(half / pitch_ * (1 << kShift))));
    for (std::size_t i = 0; i < line.size(); ++i) {
      cv::circle(ink_, at(line[i]), radius, cv::Scalar(255), cv::FILLED, cv::LINE_8, kShift);
      if (i == 0 || (line[i] - line[i - 1]).norm() < 1e-9) continue;
      const Vector2d along = (line[i] - line[i - 1]).normalized();
      const Vector2d side = half * Vector2d(-along.y(), along.x());
      const std::vector<cv::Point> strip = {at(line[i - 1] + side), at(line[i] + side), at(line[i] - side),
                                            at(line[i - 1] - side)};
      cv::fillConvexPoly(ink_, strip, cv::Scalar(255), cv::LINE_8, kShift);
    }
  }

  Vector2d low_;
  double pitch_;
  cv::Mat1b ink_;
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
  raster.pitch_mm = std::max(pitch_mm, std::sqrt(span.prod() * kFiner * kFiner / kMostPlaces));
  const int columns = static_cast<int>(std::ceil(span.x() / raster.pitch_mm));
  const int rows = static_cast<int>(std::ceil(span.y() / raster.pitch_mm));
  raster.low_mm = raster.ink.low.array() - kRim_mm - raster.pitch_mm;
  const double fine = raster.pitch_mm / kFiner;
  // the first fine pixel's centre lies half a coarse pixel, less half a fine one, before the coarse one's
  const Vector2d fine_low = raster.low_mm.array() - (raster.pitch_mm - fine) / 2.0;
  InkDrawer drawer(fine_low, fine, cv::Size(columns * kFiner, rows * kFiner));
  for (const Pass& pass : passes)
    for (const InkShape& shape : pass.shapes) drawer.draw(shape);
  cv::Mat1b mean;
  cv::resize(drawer.ink(), mean, cv::Size(columns, rows), 0.0, 0.0, cv::INTER_AREA);
  mean.convertTo(raster.coverage, CV_32F, 1.0 / 255.0);
  return raster;
}

InkRaster blurred(const InkRaster& raster, const Vector2d& sigma_mm) {
  InkRaster out = raster;
  out.coverage = cv::Mat1f();  // a copy of its own: matrices share their pixels
  const Vector2d sigma = (sigma_mm / raster.pitch_mm).cwiseMax(0.05);
  cv::GaussianBlur(raster.coverage, out.coverage, cv::Size(), sigma.x(), sigma.y(), cv::BORDER_CONSTANT);
  return out;
}

}  // namespace jigtrue
