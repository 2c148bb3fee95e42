#include "camera/distortion.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue::distortion {

namespace {

// A pinhole image grows without bound towards 90 degrees; nothing is measured out there.
constexpr double kPinholeLimit_rad = rad_from_deg(89.0);
// At 180 degrees the direction round the axis is lost.
constexpr double kAngleLimit_rad = rad_from_deg(175.0);
constexpr int kWalkSteps = 300;
constexpr int kDirections = 8;
// A map that shrinks lengths below this share of the centre's scale is as good as folded: positions there would be
// uncertain by a hundredfold of what they are at the centre.
constexpr double kSmallestScale = 0.01;

bool one_to_one_pinhole(const PinholeCoefficients& c, double theta) {
  const double r = std::tan(theta);
  const RadialFactor f = radial_factor(c, r * r);
  if (!(f.denominator > 0.0) || !(f.factor > 0.0)) return false;
  // lengths at angle theta are stretched by 1/cos^2 along the radius in a perfect pinhole picture: compare by angle
  const double by_theta = (f.factor + 2.0 * r * r * f.slope) * (1.0 + r * r);
  if (!(by_theta > kSmallestScale)) return false;
  // The Jacobian is symmetric: eigenvalues factor and factor + 2 r^2 slope, and a tangential part that changes them by
  // at most its norm, less than 8 r |p|. Only where that could matter is it looked at closely.
  const double radial = std::min(f.factor, f.factor + 2.0 * r * r * f.slope);
  if (radial > 8.0 * r * std::hypot(c.p1, c.p2)) return true;
  for (int i = 0; i < kDirections; ++i) {
    const double azimuth = 2.0 * kPi * i / kDirections;
    const Vector2d direction = unit_vector(azimuth);
    const Matrix2d j = bend_with_jacobian(c, r * direction).by_point;
    if (!(j.determinant() > 0.0) || !(direction.dot(j * direction) > 0.0)) return false;
  }
  return true;
}

// Walks outwards from the axis and narrows the first failure down by halving.
template <class Holds>
double walk_out(double limit, const Holds& holds) {
  double good = 0.0;
  for (int i = 1; i <= kWalkSteps; ++i) {
    const double theta = limit * i / kWalkSteps;
    if (holds(theta)) {
      good = theta;
      continue;
    }
    double bad = theta;
    for (int halving = 0; halving < 40; ++halving) {
      const double middle = 0.5 * (good + bad);
      (holds(middle) ? good : bad) = middle;
    }
    return good;
  }
  return good;
}

}  // namespace

PinholeCoefficients pinhole_coefficients(const Lens& lens) {
  const double* k = lens.parameters.data() + 4;
  if (lens.model == LensModel::radial2) return {k[0], k[1], 0.0, 0.0, 0.0, 0.0, 0.0, 0.0};
  if (lens.model == LensModel::radial5) return {k[0], k[1], k[4], 0.0, 0.0, 0.0, k[2], k[3]};
  return {k[0], k[1], k[4], k[5], k[6], k[7], k[2], k[3]};
}

RadialFactor radial_factor(const PinholeCoefficients& c, double r2) {
  const double numerator = 1.0 + r2 * (c.k1 + r2 * (c.k2 + r2 * c.k3));
  const double denominator = 1.0 + r2 * (c.k4 + r2 * (c.k5 + r2 * c.k6));
  const double numerator_slope = c.k1 + r2 * (2.0 * c.k2 + r2 * 3.0 * c.k3);
  const double denominator_slope = c.k4 + r2 * (2.0 * c.k5 + r2 * 3.0 * c.k6);
  const double factor = numerator / denominator;
  return {factor, (numerator_slope - factor * denominator_slope) / denominator, numerator, denominator};
}

Vector2d bend(const PinholeCoefficients& c, const Vector2d& point) {
  const double x = point.x();
  const double y = point.y();
  const double r2 = x * x + y * y;
  const double f = radial_factor(c, r2).factor;
  return {x * f + 2.0 * c.p1 * x * y + c.p2 * (r2 + 2.0 * x * x),
          y * f + c.p1 * (r2 + 2.0 * y * y) + 2.0 * c.p2 * x * y};
}

BentPoint bend_with_jacobian(const PinholeCoefficients& c, const Vector2d& point) {
  const double x = point.x();
  const double y = point.y();
  const double r2 = x * x + y * y;
  const RadialFactor f = radial_factor(c, r2);
  BentPoint bent;
  bent.m = {x * f.factor + 2.0 * c.p1 * x * y + c.p2 * (r2 + 2.0 * x * x),
            y * f.factor + c.p1 * (r2 + 2.0 * y * y) + 2.0 * c.p2 * x * y};
  const double cross = 2.0 * x * y * f.slope + 2.0 * c.p1 * x + 2.0 * c.p2 * y;
  bent.by_point << f.factor + 2.0 * x * x * f.slope + 2.0 * c.p1 * y + 6.0 * c.p2 * x, cross,  //
      cross, f.factor + 2.0 * y * y * f.slope + 6.0 * c.p1 * y + 2.0 * c.p2 * x;
  return bent;
}

LensJacobian2 bend_by_coefficients(LensModel model, const PinholeCoefficients& c, const Vector2d& point) {
  const double x = point.x();
  const double y = point.y();
  const double r2 = x * x + y * y;
  const RadialFactor f = radial_factor(c, r2);
  const double r4 = r2 * r2;
  const Vector2d numerator = point / f.denominator;
  const Vector2d denominator = -point * f.factor / f.denominator;
  LensJacobian2 j(2, distortion_count(model));
  j.col(0) = r2 * numerator;
  j.col(1) = r4 * numerator;
  if (model == LensModel::radial2) return j;
  j.col(2) = Vector2d(2.0 * x * y, r2 + 2.0 * y * y);
  j.col(3) = Vector2d(r2 + 2.0 * x * x, 2.0 * x * y);
  j.col(4) = r4 * r2 * numerator;
  if (model == LensModel::rational8) {
    j.col(5) = r2 * denominator;
    j.col(6) = r4 * denominator;
    j.col(7) = r4 * r2 * denominator;
  }
  return j;
}

AngleCoefficients angle_coefficients(const Lens& lens) {
  const double* k = lens.parameters.data() + 4;
  return {k[0], k[1], k[2], k[3]};
}

BentAngle bend_angle(const AngleCoefficients& k, double theta) {
  const double t2 = theta * theta;
  return {theta * (1.0 + t2 * (k[0] + t2 * (k[1] + t2 * (k[2] + t2 * k[3])))),
          1.0 + t2 * (3.0 * k[0] + t2 * (5.0 * k[1] + t2 * (7.0 * k[2] + t2 * 9.0 * k[3])))};
}

double largest_angle(const Lens& lens) {
  if (lens.model == LensModel::equidistant4) {
    const AngleCoefficients k = angle_coefficients(lens);
    return walk_out(kAngleLimit_rad, [&](double theta) {
      const BentAngle bent = bend_angle(k, theta);
      return bent.slope > kSmallestScale && bent.value > 0.0;
    });
  }
  const PinholeCoefficients c = pinhole_coefficients(lens);
  return walk_out(kPinholeLimit_rad, [&](double theta) { return one_to_one_pinhole(c, theta); });
}

}  // namespace jigtrue::distortion
