// A drawing as a picture of how much of each place its ink covers.
#pragma once
#include "jigtrue/layout/design_art.hpp"

#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Design frame, mm: u along the axis, v across (to the left of along); (0, 0) is the design's centre. A column's centre
// lies at low.x + column * pitch, a row's at low.y + row * pitch: rows grow with v.
struct InkRaster {
  cv::Mat1f coverage;  // 0 to 1; a rim of at least kRim_mm around the ink is bare
  double pitch_mm = 0.0;
  Vector2d low_mm = Vector2d::Zero();
  InkBox ink;  // u, v

  // Bilinear; 0 beyond the raster.
  [[nodiscard]] float at(const Vector2d& uv_mm) const;
};
inline constexpr double kRim_mm = 1.0;  // about the drawing: room for its blur

// A stroke without width burns as wide as a beam's spot, 0.1 mm (common practice, no source). The pitch is made coarser
// where the raster would have more than 2 million places. Throws std::logic_error for passes without ink.
[[nodiscard]] InkRaster ink_raster(const std::vector<Pass>& passes, double pitch_mm);

// Turned by 180 degrees about the design's centre.
[[nodiscard]] InkRaster turned_round(const InkRaster& raster);

// As a lens blurs it: Gaussian sigmas along u and v, mm.
[[nodiscard]] InkRaster blurred(const InkRaster& raster, const Vector2d& sigma_mm);

}  // namespace jigtrue
