#include "jigtrue/geometry/rigid.hpp"

namespace jigtrue {

namespace {

Matrix3d half_turn(const Vector3d& unit_axis) { return 2.0 * unit_axis * unit_axis.transpose() - Matrix3d::Identity(); }

}  // namespace

Matrix3d cross_matrix(const Vector3d& v) {
  Matrix3d m;
  m << 0, -v.z(), v.y(), v.z(), 0, -v.x(), -v.y(), v.x(), 0;
  return m;
}

Matrix3d rotation_from_vector(const Vector3d& v) {
  const double angle = v.norm();
  const Matrix3d k = cross_matrix(v);
  // below 1e-4 rad the next terms of both series are under 1e-17
  const double a = angle < 1e-4 ? 1.0 - angle * angle / 6.0 : std::sin(angle) / angle;
  const double b = angle < 1e-4 ? 0.5 - angle * angle / 24.0 : (1.0 - std::cos(angle)) / (angle * angle);
  return Matrix3d::Identity() + a * k + b * k * k;
}

Vector3d vector_from_rotation(const Matrix3d& rotation) {
  const Eigen::AngleAxisd angle_axis(Eigen::Quaterniond(rotation).normalized());
  return angle_axis.angle() * angle_axis.axis();
}

Matrix3d shortest_turn(const Vector3d& from, const Vector3d& to) {
  const Vector3d start = from.normalized();
  const Vector3d sum = start + to.normalized();
  const Vector3d bisector = sum.norm() > 1e-13 ? sum.normalized() : start.unitOrthogonal();
  return half_turn(bisector) * half_turn(start);
}

}  // namespace jigtrue
