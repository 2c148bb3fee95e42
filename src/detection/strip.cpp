#include "jigtrue/detection/strip.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

float bilinear(const cv::Mat1b& plane, double x, double y) {
  x = std::clamp(x, 0.0, plane.cols - 1.000001);
  y = std::clamp(y, 0.0, plane.rows - 1.000001);
  const int column = static_cast<int>(x);
  const int row = static_cast<int>(y);
  const auto fx = static_cast<float>(x - column);
  const auto fy = static_cast<float>(y - row);
  const unsigned char* top = plane.ptr(row) + column;
  const unsigned char* bottom = plane.ptr(row + 1) + column;
  const float upper = static_cast<float>(top[0]) + fx * static_cast<float>(top[1] - top[0]);
  const float lower = static_cast<float>(bottom[0]) + fx * static_cast<float>(bottom[1] - bottom[0]);
  return upper + fy * (lower - upper);
}

}  // namespace

Strip sample_strip(const Photo& photo, const std::vector<OutlineSample>& samples, double first_px, double last_px,
                   double step_px) {
  Strip strip;
  strip.first_px = first_px;
  strip.step_px = step_px;
  strip.rows = static_cast<int>(samples.size());
  strip.columns = static_cast<int>(std::floor((last_px - first_px) / step_px + 1e-9)) + 1;
  for (auto& channel : strip.values)
    channel.assign(static_cast<std::size_t>(strip.rows) * static_cast<std::size_t>(strip.columns), 0.0F);
  const double scale_x = photo.has_colour() ? static_cast<double>(photo.cb.cols) / photo.luma.cols : 0.0;
  const double scale_y = photo.has_colour() ? static_cast<double>(photo.cb.rows) / photo.luma.rows : 0.0;
  for (int i = 0; i < strip.rows; ++i) {
    const OutlineSample& sample = samples[static_cast<std::size_t>(i)];
    for (int j = 0; j < strip.columns; ++j) {
      const Vector2d px = sample.px + strip.position_px(j) * sample.normal_px;
      strip.row(0, i)[j] = bilinear(photo.luma, px.x(), px.y());
      if (!photo.has_colour()) continue;
      const double x = (px.x() + 0.5) * scale_x - 0.5;
      const double y = (px.y() + 0.5) * scale_y - 0.5;
      strip.row(1, i)[j] = bilinear(photo.cb, x, y) - 128.0F;
      strip.row(2, i)[j] = bilinear(photo.cr, x, y) - 128.0F;
    }
  }
  return strip;
}

}  // namespace jigtrue
