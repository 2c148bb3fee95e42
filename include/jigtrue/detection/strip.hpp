// Intensities read along the normals of an outline, on the original pixels.
#pragma once
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/image/photo.hpp"

#include <array>
#include <vector>

namespace jigtrue {

inline constexpr int kChannels = 3;  // luma, blue chroma, red chroma (JFIF); a grey photo has zeros in the last two

// Row i belongs to sample i, column j to the distance first_px + j * step_px along the sample's normal (outward
// positive).
struct Strip {
  double first_px = 0.0;
  double step_px = 1.0;
  int rows = 0;
  int columns = 0;
  std::array<std::vector<float>, kChannels> values;  // row by row

  [[nodiscard]] const float* row(int channel, int i) const {
    return values[static_cast<std::size_t>(channel)].data() + static_cast<std::ptrdiff_t>(i) * columns;
  }
  [[nodiscard]] float* row(int channel, int i) {
    return values[static_cast<std::size_t>(channel)].data() + static_cast<std::ptrdiff_t>(i) * columns;
  }
  [[nodiscard]] double position_px(int column) const { return first_px + column * step_px; }
};

// Bilinear on each plane; beyond the picture's rim the nearest pixel's value.
[[nodiscard]] Strip sample_strip(const Photo& photo, const std::vector<OutlineSample>& samples, double first_px,
                                 double last_px, double step_px);

}  // namespace jigtrue
