// Rigid transforms. Named to_from: p_camera = camera_from_bed * p_bed, so that products read like dominoes.
#pragma once
#include "jigtrue/geometry/types.hpp"

namespace jigtrue {

struct Rigid {
  Matrix3d rotation = Matrix3d::Identity();  // orthonormal, determinant +1
  Vector3d translation = Vector3d::Zero();   // mm

  [[nodiscard]] Vector3d operator*(const Vector3d& point) const { return rotation * point + translation; }
  [[nodiscard]] Rigid operator*(const Rigid& other) const {
    return {rotation * other.rotation, rotation * other.translation + translation};
  }
  [[nodiscard]] Rigid inverse() const { return {rotation.transpose(), -(rotation.transpose() * translation)}; }
};

[[nodiscard]] Matrix3d cross_matrix(const Vector3d& v);
// Rotation by |v| radians about v (Rodrigues' formula), exact near zero.
[[nodiscard]] Matrix3d rotation_from_vector(const Vector3d& v);
// Its inverse; the returned length lies in [0, pi].
[[nodiscard]] Vector3d vector_from_rotation(const Matrix3d& rotation);
// The rotation by the least angle that turns one direction (of any length but zero) to another. Between opposed ones it
// is a half-turn about an axis of its own choice.
[[nodiscard]] Matrix3d shortest_turn(const Vector3d& from, const Vector3d& to);

}  // namespace jigtrue
