#include "jigtrue/geometry/revolution.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

const Vector3d kEye(150.0, 280.0, 270.0);

// Rounding of a few operations on numbers of some hundred mm.
constexpr double kRoundingMm = 1e-9;

AxisFrame tilted_axis() { return make_axis_frame({40.0, 60.0, 12.0}, 0.7, 0.04); }

TEST(ContourGenerator, SightLineTouchesTheCylinderOnce) {
  const AxisFrame axis = tilted_axis();
  const double radius = 5.5;
  const auto limbs = contour_generator(axis, 33.0, radius, 0.0, kEye);
  ASSERT_TRUE(limbs);
  for (const OutlinePoint& limb : *limbs) {
    // the distance between the sight line and the axis line is the radius: an independent statement of tangency
    const Vector3d ray = (limb.point_mm - kEye).normalized();
    const Vector3d common = ray.cross(axis.along).normalized();
    EXPECT_NEAR(std::abs(common.dot(axis.origin_mm - kEye)), radius, kRoundingMm);
  }
}

TEST(ContourGenerator, TangentPlanesMeetInADirectionAlongTheAxis) {
  // Doignon & de Mathelin, ICRA 2007: the axis direction is n1 x n2, and sin(alpha) = R / d for half the angle between
  // the planes
  const AxisFrame axis = tilted_axis();
  const double radius = 20.0;
  const auto limbs = contour_generator(axis, 10.0, radius, 0.0, kEye);
  ASSERT_TRUE(limbs);
  const Vector3d n1 = (*limbs)[0].normal;
  const Vector3d n2 = (*limbs)[1].normal;
  EXPECT_NEAR(n1.cross(n2).normalized().cross(axis.along).norm(), 0.0, kRoundingMm);
  const Vector3d to_eye = kEye - axis.origin_mm;
  const double distance = (to_eye - to_eye.dot(axis.along) * axis.along).norm();
  const double alpha = 0.5 * (kPi - std::acos(n1.dot(n2)));
  EXPECT_NEAR(std::sin(alpha), radius / distance, kRoundingMm);
}

TEST(ContourGenerator, TangentPlanesOfAConeHoldItsApex) {
  const AxisFrame axis = tilted_axis();
  const double slope = -0.12;
  const double radius = 5.0;
  const Vector3d apex = axis.at(20.0 - radius / slope);
  const auto limbs = contour_generator(axis, 20.0, radius, slope, kEye);
  ASSERT_TRUE(limbs);
  for (const OutlinePoint& limb : *limbs) {
    EXPECT_NEAR(limb.normal.dot(apex - limb.point_mm), 0.0, kRoundingMm);
    EXPECT_NEAR(limb.normal.dot(kEye - limb.point_mm), 0.0, kRoundingMm);
  }
}

TEST(ContourGenerator, FirstPointLiesOnThePositiveSide) {
  const AxisFrame axis = make_axis_frame({0.0, 0.0, 10.0}, 0.0, 0.0);
  const auto limbs = contour_generator(axis, 0.0, 5.0, 0.0, {0.0, 0.0, 500.0});
  ASSERT_TRUE(limbs);
  EXPECT_GT((*limbs)[0].point_mm.y(), 0.0);
  EXPECT_LT((*limbs)[1].point_mm.y(), 0.0);
}

TEST(ContourGenerator, HasNoPointsSeenFromInside) {
  const AxisFrame axis = make_axis_frame({0.0, 0.0, 10.0}, 0.0, 0.0);
  EXPECT_FALSE(contour_generator(axis, 0.0, 50.0, 0.0, {0.0, 10.0, 20.0}));
}

}  // namespace
}  // namespace jigtrue
