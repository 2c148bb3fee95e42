// The vector types and their frames. One page of conventions stands in DEVELOPERS.md.
//   bed:    right-handed, mm, X right, Y away from the operator, Z up, z = 0 the bed surface
//   camera: right-handed, mm, Z along the optical axis, X to the right and Y down in the picture
//   image:  px, the top-left pixel's centre is (0, 0)
#pragma once
#include <cmath>
#include <numbers>
#include <vector>

#include <Eigen/Core>
#include <Eigen/Geometry>

namespace jigtrue {

using Eigen::Matrix2d;
using Eigen::Matrix3d;
using Eigen::MatrixXd;
using Eigen::Vector2d;
using Eigen::Vector3d;
using Eigen::VectorXd;

using Polyline2d = std::vector<Vector2d>;

inline constexpr double kPi = std::numbers::pi;  // by its usual name
[[nodiscard]] constexpr double rad_from_deg(double deg) { return deg * kPi / 180.0; }
[[nodiscard]] constexpr double deg_from_rad(double rad) { return rad * 180.0 / kPi; }

// The direction at this angle from +X towards +Y; and a vector turned by +90 degrees: "across" from "along".
[[nodiscard]] inline Vector2d unit_vector(double angle_rad) { return {std::cos(angle_rad), std::sin(angle_rad)}; }
[[nodiscard]] inline Vector2d turned_left(const Vector2d& v) { return {-v.y(), v.x()}; }

}  // namespace jigtrue
