#include "jigtrue/detection/strip.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// Within the plane: 0 <= x < columns - 1, 0 <= y < rows - 1. In double: a picture that was turned gives the same
// floats.
float bilinear(const cv::Mat1b& plane, double x, double y) {
  const int column = static_cast<int>(x);
  const int row = static_cast<int>(y);
  const double fx = x - column;
  const double fy = y - row;
  const unsigned char* top = plane.ptr(row) + column;
  const unsigned char* bottom = plane.ptr(row + 1) + column;
  const double upper = top[0] + fx * (top[1] - top[0]);
  const double lower = bottom[0] + fx * (bottom[1] - bottom[0]);
  return static_cast<float>(upper + fy * (lower - upper));
}

// One plane along one normal, less `zero`: from `start` on by `step`, in px of the plane. Where both ends lie within
// the plane no value has to be held back to its rim.
void sample(const cv::Mat1b& plane, const Vector2d& start, const Vector2d& step, float zero, int columns, float* row) {
  const Vector2d last(plane.cols - 1.000001, plane.rows - 1.000001);
  const auto within = [&](const Vector2d& px) {
    return (px.array() >= 0.0).all() && (px.array() <= last.array()).all();
  };
  if (within(start) && within(start + (columns - 1) * step)) {
    for (int j = 0; j < columns; ++j)
      row[j] = bilinear(plane, start.x() + j * step.x(), start.y() + j * step.y()) - zero;
    return;
  }
  for (int j = 0; j < columns; ++j) {
    const Vector2d px = (start + j * step).cwiseMax(0.0).cwiseMin(last);
    row[j] = bilinear(plane, px.x(), px.y()) - zero;
  }
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
  constexpr float kNeutral = 128.0F;
  for (int i = 0; i < strip.rows; ++i) {
    const OutlineSample& at = samples[static_cast<std::size_t>(i)];
    const Vector2d start = at.px + first_px * at.normal_px;
    const Vector2d step = step_px * at.normal_px;
    sample(photo.luma, start, step, 0.0F, strip.columns, strip.row(0, i));
    if (!photo.has_colour()) continue;
    const Vector2d chroma_start = photo.chroma.position(start);
    const Vector2d chroma_step = step.cwiseQuotient(photo.chroma.pixels);
    sample(photo.cb, chroma_start, chroma_step, kNeutral, strip.columns, strip.row(1, i));
    sample(photo.cr, chroma_start, chroma_step, kNeutral, strip.columns, strip.row(2, i));
  }
  return strip;
}

}  // namespace jigtrue
