#include "jigtrue/camera/camera.hpp"

#include "jigtrue/base/products.hpp"

#include <cmath>
#include <stdexcept>

namespace jigtrue {

std::optional<Vector2d> project_bed_point(const Camera& camera, const Vector3d& bed_mm) {
  return project(camera.lens, camera.camera_from_bed * bed_mm);
}

std::optional<BedProjection> project_bed_point_with_jacobian(const Camera& camera, const Vector3d& bed_mm) {
  const Vector3d turned = camera.camera_from_bed.rotation * bed_mm;
  const std::optional<Projection> there =
      project_with_jacobian(camera.lens, turned + camera.camera_from_bed.translation, LensJacobian::yes);
  if (!there) return std::nullopt;
  BedProjection result;
  result.px = there->px;
  result.by_bed_point = there->by_point * camera.camera_from_bed.rotation;
  const Eigen::Index n = there->by_parameters.cols();
  result.by_camera.resize(2, n + 6);
  result.by_camera.leftCols(n) = there->by_parameters;
  result.by_camera.middleCols<3>(n) = -there->by_point * cross_matrix(turned);
  result.by_camera.rightCols<3>() = there->by_point;
  return result;
}

Camera shrunk(const Camera& camera, double factor) {
  if (!(factor >= 1.0)) throw std::logic_error("a camera is shrunk by a factor below 1");
  if (factor == 1.0) return camera;
  constexpr Eigen::Index kFocalAndPrincipal = 4;  // parameters of every lens
  Camera small = camera;
  small.lens.width_px = static_cast<int>(camera.lens.width_px / factor);
  small.lens.height_px = static_cast<int>(camera.lens.height_px / factor);
  small.lens.parameters.head<2>() /= factor;
  small.lens.parameters.segment<2>(2) = (camera.lens.principal_px().array() + 0.5) / factor - 0.5;
  if (small.covariance.size() > 0) {
    small.covariance.topRows(kFocalAndPrincipal) /= factor;
    small.covariance.leftCols(kFocalAndPrincipal) /= factor;
  }
  return small;
}

std::optional<SightRay> sight_ray(const Camera& camera, const Vector2d& px) {
  const std::optional<Vector3d> ray = unproject(camera.lens, px);
  if (!ray) return std::nullopt;
  return SightRay{camera.centre_mm(), camera.camera_from_bed.rotation.transpose() * *ray};
}

std::optional<BedPoint> bed_point_at(const Camera& camera, const Vector2d& px, double height_mm) {
  const std::optional<SightRay> ray = sight_ray(camera, px);
  if (!ray || !std::isfinite(height_mm)) return std::nullopt;
  const double fall = height_mm - ray->origin_mm.z();
  // from above only: the camera looks down on its bed
  if (!(fall < 0.0) || !(ray->direction.z() < 0.0)) return std::nullopt;
  const Vector3d point = ray->origin_mm + ray->direction * (fall / ray->direction.z());
  if (!point.allFinite()) return std::nullopt;
  BedPoint result{point.head<2>(), Matrix2d::Zero()};
  if (camera.covariance.size() == 0) return result;
  const std::optional<BedProjection> there = project_bed_point_with_jacobian(camera, {point.x(), point.y(), height_mm});
  if (!there) return std::nullopt;
  // at a fixed px the point gives way to the camera: by_bed d(bed) + by_camera d(camera) = 0
  const auto by_camera = (-there->by_bed_point.leftCols<2>().inverse() * there->by_camera).eval();
  result.covariance_mm2 = propagated(by_camera, camera.covariance);
  if (!result.covariance_mm2.allFinite()) return std::nullopt;
  return result;
}

Matrix3d bed_homography(const Camera& camera) {
  Matrix3d camera_from_plane;
  camera_from_plane << camera.camera_from_bed.rotation.leftCols<2>(), camera.camera_from_bed.translation;
  const Matrix3d h = camera_from_plane.inverse();
  Matrix3d scaled = h / h(2, 2);
  if (!scaled.allFinite()) throw std::logic_error("the camera stands in the bed plane: it has no homography to it");
  return scaled;
}

}  // namespace jigtrue
