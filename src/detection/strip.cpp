#include "jigtrue/detection/strip.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// Between which four pixels a place lies, and how far. Within the plane: 0 <= x < columns - 1, 0 <= y < rows - 1. In
// double: a picture that was turned gives the same floats.
struct Between {
  int column;
  int row;
  double x;
  double y;
  explicit Between(const Vector2d& px)
      : column(static_cast<int>(px.x())), row(static_cast<int>(px.y())), x(px.x() - column), y(px.y() - row) {}
};

inline float bilinear(const cv::Mat1b& plane, const Between& at) {
  const unsigned char* top = plane.ptr(at.row) + at.column;
  const unsigned char* bottom = plane.ptr(at.row + 1) + at.column;
  const double upper = top[0] + at.x * (top[1] - top[0]);
  const double lower = bottom[0] + at.x * (bottom[1] - bottom[0]);
  return static_cast<float>(upper + at.y * (lower - upper));
}

struct Reading {
  const cv::Mat1b& plane;
  float* row;
};

// Planes of one size along one normal, less `zero`: from `start` on by `step`, in px of the planes. Where both ends lie
// within them no place has to be held back to their rim.
template <std::size_t count>
void sample(const std::array<Reading, count>& readings, const Vector2d& start, const Vector2d& step, float zero,
            int columns) {
  const cv::Mat1b& plane = readings.front().plane;
  const Vector2d last(plane.cols - 1.000001, plane.rows - 1.000001);
  const auto within = [&](const Vector2d& px) {
    return (px.array() >= 0.0).all() && (px.array() <= last.array()).all();
  };
  const bool inside = within(start) && within(start + (columns - 1) * step);
  for (int j = 0; j < columns; ++j) {
    Vector2d px = start + j * step;
    if (!inside) px = px.cwiseMax(0.0).cwiseMin(last);
    const Between at(px);
    for (const Reading& reading : readings) reading.row[j] = bilinear(reading.plane, at) - zero;
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
  constexpr float kNeutral = 128.0F;  // JFIF's zero of chroma
  for (int i = 0; i < strip.rows; ++i) {
    const OutlineSample& at = samples[static_cast<std::size_t>(i)];
    const Vector2d start = at.px + first_px * at.normal_px;
    const Vector2d step = step_px * at.normal_px;
    sample<1>({{{photo.luma, strip.row(0, i)}}}, start, step, 0.0F, strip.columns);
    if (!photo.has_colour()) continue;
    const Vector2d chroma_start = photo.chroma.position(start);
    const Vector2d chroma_step = step.cwiseQuotient(photo.chroma.pixels);
    sample<2>({{{photo.cb, strip.row(1, i)}, {photo.cr, strip.row(2, i)}}}, chroma_start, chroma_step, kNeutral,
              strip.columns);
  }
  return strip;
}

}  // namespace jigtrue
