// Places that look like a checker corner: a saddle of the smoothed picture with four alternating sectors round it.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <array>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

struct Saddle {
  Vector2d px;
  std::array<double, 4> ray_rad{};  // directions of the four edges leaving it, ascending, picture axes (y down)
  std::array<int, 4> after{};       // +1 bright, -1 dark: the sector that follows each ray (towards larger angles)
  double level = 0.0;               // grey level midway between bright and dark
  double contrast = 0.0;            // half difference, grey levels
  double strength = 0.0;            // saddle curvature, for ranking
};

// At most max_count saddles, strongest first.
[[nodiscard]] std::vector<Saddle> find_saddles(const cv::Mat1b& luma, double ring_radius_px, std::size_t max_count);

}  // namespace jigtrue
