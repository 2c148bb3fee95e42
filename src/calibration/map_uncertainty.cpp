#include "jigtrue/calibration/map_uncertainty.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/camera/camera_shares.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
// Exact for a circle (2.4477 sigma) and for a line (1.9600 sigma). Between them a polynomial in the ratio of the axes,
// fitted to the exact integral (Gilliland, J. Am. Stat. Assoc. 57 (1962), has the same problem; the test integrates).
double radius_95(const Matrix2d& covariance) {
  const Vector2d axes = symmetric_eigenvalues(covariance);
  const double small = std::sqrt(std::max(axes[0], 0.0));
  const double large = std::sqrt(std::max(axes[1], 0.0));
  const double q = large > 0.0 ? small / large : 0.0;
  return large * (1.95996 + q * q * (0.3781 + q * (-0.8155 + q * (1.7378 - 0.8128 * q))));
}

std::optional<MappedPoint> map_point(const CameraRecord& record, const Vector2d& px, double height_mm) {
  const Camera& camera = record.camera;
  if (px.x() < -0.5 || px.y() < -0.5 || px.x() > camera.lens.width_px - 0.5 || px.y() > camera.lens.height_px - 0.5)
    return std::nullopt;
  const auto point = bed_point_at(camera, px, height_mm);
  if (!point) return std::nullopt;
  const auto projection = project_bed_point_with_jacobian(camera, {point->mm.x(), point->mm.y(), height_mm});
  if (!projection) return std::nullopt;
  MappedPoint mapped;
  mapped.bed_mm = point->mm;
  mapped.covariance_mm2 = point->covariance_mm2;
  const Matrix2d bed_from_px = projection->by_bed_point.leftCols<2>().inverse();
  if (camera.covariance.size() > 0) {
    const CameraShares shares = camera_shares(camera, -bed_from_px * projection->by_camera);
    mapped.lens_share_mm2 = shares.lens;
    mapped.pose_share_mm2 = shares.pose;
  }
  const double error_px = record.lens.model_error_px / std::sqrt(2.0);
  const Matrix2d model = error_px * error_px * bed_from_px * bed_from_px.transpose();
  mapped.lens_error_mm = std::sqrt(model.trace() / 2.0);
  mapped.radius_95_mm = radius_95(mapped.covariance_mm2 + model);
  return mapped;
}

}  // namespace jigtrue
