#include "inspection/laid_ink.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace jigtrue {

cv::Mat1f laid(const Unrolled& on, const InkRaster& ink, const MarkPose& pose) {
  cv::Mat1f out = cv::Mat1f::zeros(on.light.size());
  const double c = std::cos(pose.turn_rad);
  const double s = std::sin(pose.turn_rad);
  // only where the raster, turned, can reach
  InkBox reach;
  for (const double u : {ink.ink.low.x() - kRim_mm, ink.ink.high.x() + kRim_mm})
    for (const double v : {ink.ink.low.y() - kRim_mm, ink.ink.high.y() + kRim_mm}) {
      const double mu = pose.mirror.x() * u;
      const double mv = pose.mirror.y() * v;
      reach.hold(pose.uv_mm + Vector2d(c * mu - s * mv, s * mu + c * mv));
    }
  const auto index = [&](double mm, int axis, int most) {
    return std::clamp(static_cast<int>(std::floor((mm - on.low_mm[axis]) / on.pitch_mm)), 0, most);
  };
  const int last_row = index(reach.high.y(), 1, out.rows - 1);
  const int last_column = index(reach.high.x(), 0, out.cols - 1);
  for (int row = index(reach.low.y(), 1, out.rows - 1); row <= last_row; ++row)
    for (int column = index(reach.low.x(), 0, out.cols - 1); column <= last_column; ++column) {
      const Vector2d d = on.uv(column, row) - pose.uv_mm;
      out(row, column) =
          ink.at({pose.mirror.x() * (c * d.x() + s * d.y()), pose.mirror.y() * (-s * d.x() + c * d.y())});
    }
  return out;
}

std::array<cv::Mat1f, 2> shift_slopes(const cv::Mat1f& pattern, double pitch_mm) {
  std::array<cv::Mat1f, 2> slope = {cv::Mat1f::zeros(pattern.size()), cv::Mat1f::zeros(pattern.size())};
  const auto per_mm = static_cast<float>(0.5 / pitch_mm);
  for (int row = 1; row + 1 < pattern.rows; ++row)
    for (int column = 1; column + 1 < pattern.cols; ++column) {
      slope[0](row, column) = per_mm * (pattern(row, column - 1) - pattern(row, column + 1));
      slope[1](row, column) = per_mm * (pattern(row - 1, column) - pattern(row + 1, column));
    }
  return slope;
}

cv::Mat1f weight_of(const cv::Mat1b& seen) {
  cv::Mat1f weight;
  seen.convertTo(weight, CV_32F, 1.0 / 255.0);
  return weight;
}

cv::Mat1b widened(const cv::Mat1f& pattern, double by_mm, double pitch_mm) {
  cv::Mat1b ink = pattern > 0.02;
  const int radius = std::max(1, static_cast<int>(std::lround(by_mm / pitch_mm)));
  cv::Mat1b out;
  cv::dilate(ink, out, cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(2 * radius + 1, 2 * radius + 1)));
  return out;
}

}  // namespace jigtrue
