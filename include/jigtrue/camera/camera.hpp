// A lens in its place above the bed.
#pragma once
#include "jigtrue/camera/lens.hpp"
#include "jigtrue/geometry/rigid.hpp"

#include <optional>

namespace jigtrue {

struct Camera {
  Lens lens;
  Rigid camera_from_bed;
  // Joint covariance of [lens parameters, pose]: the pose's last six are a rotation vector (rad) applied on the left of
  // camera_from_bed's rotation, then the translation (mm). Size (n + 6)^2; empty when unknown.
  MatrixXd covariance;

  [[nodiscard]] Vector3d centre_mm() const { return camera_from_bed.inverse().translation; }  // bed frame
};

[[nodiscard]] std::optional<Vector2d> project_bed_point(const Camera& camera, const Vector3d& bed_mm);

// d px / d [lens parameters, rotation vector, translation] at a bed point: what carries the covariance into the
// picture.
struct BedProjection {
  Vector2d px;
  Eigen::Matrix<double, 2, 3> by_bed_point;
  // columns as in Camera::covariance
  Eigen::Matrix<double, 2, Eigen::Dynamic, Eigen::ColMajor, 2, kMaxLensParameters + 6> by_camera;
};
[[nodiscard]] std::optional<BedProjection> project_bed_point_with_jacobian(const Camera& camera,
                                                                           const Vector3d& bed_mm);

// The same camera with a picture `factor` times coarser either way: position (p + 0.5) / factor - 0.5, size rounded
// down. Throws std::logic_error for a factor below 1.
[[nodiscard]] Camera shrunk(const Camera& camera, double factor);

struct SightRay {
  Vector3d origin_mm;  // camera centre, bed frame
  Vector3d direction;  // unit, bed frame
};
[[nodiscard]] std::optional<SightRay> sight_ray(const Camera& camera, const Vector2d& px);

// The bed point at height z seen at px, with its 2x2 covariance from the camera's (zero when that is unknown).
// Nothing when the ray does not come down to that height in front of the camera.
struct BedPoint {
  Vector2d mm;
  Matrix2d covariance_mm2;
};
[[nodiscard]] std::optional<BedPoint> bed_point_at(const Camera& camera, const Vector2d& px, double height_mm);

// Homography from undistorted normalised image points (x, y, 1) to the bed plane z = 0, scaled so that its last element
// is 1.
[[nodiscard]] Matrix3d bed_homography(const Camera& camera);

}  // namespace jigtrue
