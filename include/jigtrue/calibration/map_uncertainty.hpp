// The map from picture to bed with its uncertainty, lens and pose apart.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"

#include <optional>

namespace jigtrue {

struct MappedPoint {
  Vector2d bed_mm = Vector2d::Zero();
  Matrix2d covariance_mm2 = Matrix2d::Zero();  // lens and pose together: the two shares below add up to it
  // What is known no better because the lens is: the part that a lens known exactly would take away. A wrong lens also
  // shifts the pose fitted through it; that belongs here.
  Matrix2d lens_share_mm2 = Matrix2d::Zero();
  Matrix2d pose_share_mm2 = Matrix2d::Zero();  // what would be left then: the pose photo's noise, the board's place
  // What no number of photos averages away, one axis, on the bed: what the lens model misses the lens by.
  double lens_error_mm = 0.0;
  double radius_95_mm = 0.0;  // circle that holds the truth with 95 %: of all of these together
};

// Nothing when no point at that height is seen at px.
[[nodiscard]] std::optional<MappedPoint> map_point(const CameraRecord& record, const Vector2d& px, double height_mm);

// Radius of the circle about the mean of a two-dimensional normal distribution that holds 95 %, within 0.05 %. The
// covariance is symmetric and not negative; a negative eigenvalue from rounding counts as zero.
[[nodiscard]] double radius_95(const Matrix2d& covariance);

}  // namespace jigtrue
