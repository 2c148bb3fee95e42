#include "jigtrue/detection/strip.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// Within the plane: 0 <= x < columns - 1, 0 <= y < rows - 1.
float bilinear(const cv::Mat1b& plane, double x, double y) {
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

// One plane along one normal, less `zero`. Where both ends lie within the plane no value has to be held back to its
// rim.
struct Normal {
  Vector2d at_px;
  Vector2d direction_px;
  double first_px;
  double step_px;
  [[nodiscard]] Vector2d position(int column) const { return at_px + (first_px + column * step_px) * direction_px; }
};
// `in_plane`: position in the plane of a position in the picture.
template <class InPlane>
void sample(const cv::Mat1b& plane, const InPlane& in_plane, const Normal& normal, float zero, int columns,
            float* row) {
  const Vector2d last(plane.cols - 1.000001, plane.rows - 1.000001);
  const auto within = [&](const Vector2d& px) {
    return (px.array() >= 0.0).all() && (px.array() <= last.array()).all();
  };
  if (within(in_plane(normal.position(0))) && within(in_plane(normal.position(columns - 1)))) {
    for (int j = 0; j < columns; ++j) {
      const Vector2d px = in_plane(normal.position(j));
      row[j] = bilinear(plane, px.x(), px.y()) - zero;
    }
    return;
  }
  for (int j = 0; j < columns; ++j) {
    const Vector2d px = in_plane(normal.position(j)).cwiseMax(0.0).cwiseMin(last);
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
  const auto as_it_is = [](const Vector2d& px) -> Vector2d { return px; };
  const auto in_chroma = [&](const Vector2d& px) -> Vector2d { return photo.chroma.position(px); };
  for (int i = 0; i < strip.rows; ++i) {
    const OutlineSample& at = samples[static_cast<std::size_t>(i)];
    const Normal normal{at.px, at.normal_px, first_px, step_px};
    sample(photo.luma, as_it_is, normal, 0.0F, strip.columns, strip.row(0, i));
    if (!photo.has_colour()) continue;
    sample(photo.cb, in_chroma, normal, kNeutral, strip.columns, strip.row(1, i));
    sample(photo.cr, in_chroma, normal, kNeutral, strip.columns, strip.row(2, i));
  }
  return strip;
}

}  // namespace jigtrue
