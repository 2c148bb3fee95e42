// The map from picture to bed with its uncertainty, lens and pose apart.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"

#include <optional>

namespace jigtrue {

struct MappedPoint {
  Vector2d bed_mm = Vector2d::Zero();
  Matrix2d covariance_mm2 = Matrix2d::Zero();  // lens and pose together
  double lens_error_mm = 0.0;                  // what the lens model misses the lens by, one axis, on the bed
  double radius_95_mm = 0.0;                   // circle that holds the truth with 95 %
};

// Nothing when no point at that height is seen at px.
[[nodiscard]] std::optional<MappedPoint> map_point(const CameraRecord& record, const Vector2d& px, double height_mm);

}  // namespace jigtrue
