#include "jigtrue/geometry/revolution.hpp"

#include <cmath>

namespace jigtrue {

AxisFrame make_axis_frame(const Vector3d& origin_mm, double heading_rad, double tilt_rad) {
  AxisFrame frame;
  frame.origin_mm = origin_mm;
  frame.along = {std::cos(tilt_rad) * std::cos(heading_rad), std::cos(tilt_rad) * std::sin(heading_rad),
                 std::sin(tilt_rad)};
  frame.side = {-std::sin(heading_rad), std::cos(heading_rad), 0.0};
  frame.up = frame.along.cross(frame.side);
  return frame;
}

std::optional<std::array<OutlinePoint, 2>> contour_generator(const AxisFrame& axis, double distance_mm,
                                                             double radius_mm, double slope, const Vector3d& eye_mm) {
  const Vector3d centre = axis.at(distance_mm);
  const Vector3d q = centre - eye_mm;
  const double a = axis.side.dot(q);
  const double b = axis.up.dot(q);
  const double c = slope * axis.along.dot(q) - radius_mm;
  const double length = std::hypot(a, b);
  if (!(std::abs(c) < length)) return std::nullopt;
  const double middle = std::atan2(b, a);
  const double half = std::acos(c / length);
  auto at_angle = [&](double angle) {
    const Vector3d radial = std::cos(angle) * axis.side + std::sin(angle) * axis.up;
    return OutlinePoint{centre + radius_mm * radial, (radial - slope * axis.along).normalized()};
  };
  std::array<OutlinePoint, 2> limbs = {at_angle(middle - half), at_angle(middle + half)};
  if (limbs[0].normal.dot(axis.side) < limbs[1].normal.dot(axis.side)) std::swap(limbs[0], limbs[1]);
  return limbs;
}

double facing_angle_rad(const AxisFrame& axis, double distance_mm, const Vector3d& eye_mm) {
  const Vector3d to_eye = eye_mm - axis.at(distance_mm);
  return std::atan2(axis.up.dot(to_eye), axis.side.dot(to_eye));
}

}  // namespace jigtrue
