// The part of each lens model that bends: internal to the camera layer. Pinhole models bend the normalised image point
// (x, y) = (X/Z, Y/Z); the equidistant model bends the angle off the axis.
#pragma once
#include "jigtrue/camera/lens.hpp"

#include <array>

namespace jigtrue::distortion {

// Pinhole coefficients in one form for both models: k4 = k5 = k6 = 0 makes the rational one the polynomial one.
struct PinholeCoefficients {
  double k1, k2, k3, k4, k5, k6, p1, p2;
};
[[nodiscard]] PinholeCoefficients pinhole_coefficients(const Lens& lens);

struct RadialFactor {
  double factor;  // r_distorted / r
  double slope;   // d factor / d (r^2)
  double numerator;
  double denominator;  // must stay positive
};
[[nodiscard]] RadialFactor radial_factor(const PinholeCoefficients& c, double r2);

struct BentPoint {
  Vector2d m;         // distorted normalised point
  Matrix2d by_point;  // d m / d (x, y)
};
[[nodiscard]] Vector2d bend(const PinholeCoefficients& c, const Vector2d& point);
[[nodiscard]] BentPoint bend_with_jacobian(const PinholeCoefficients& c, const Vector2d& point);
// d m / d distortion parameters, in the order of Lens::parameters (from its fifth on).
[[nodiscard]] LensJacobian2 bend_by_coefficients(LensModel model, const PinholeCoefficients& c, const Vector2d& point);

// theta + k1 theta^3 + ... + k4 theta^9 and its derivative.
struct BentAngle {
  double value;
  double slope;
};
using AngleCoefficients = std::array<double, 4>;
[[nodiscard]] AngleCoefficients angle_coefficients(const Lens& lens);
[[nodiscard]] BentAngle bend_angle(const AngleCoefficients& k, double theta);

// The largest angle for which the model's map is one to one, found by walking outwards.
[[nodiscard]] double largest_angle(const Lens& lens);

}  // namespace jigtrue::distortion
