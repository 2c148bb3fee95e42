#include "jigtrue/geometry/rigid.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// Rounding of some ten operations on numbers of size 1.
constexpr double kRounding = 1e-14;

void expect_rotation(const Matrix3d& turn) {
  EXPECT_LT((turn * turn.transpose() - Matrix3d::Identity()).norm(), kRounding);
  EXPECT_GT(turn.determinant(), 0.0);
}

TEST(ShortestTurn, TurnsAboutTheCommonPerpendicularByTheAngleBetween) {
  const Vector3d from = Vector3d(0.3, -0.2, 0.9).normalized();
  const Vector3d axis = from.cross(Vector3d(1.0, 0.4, 0.1)).normalized();
  for (const double angle : {0.0, 1e-9, 0.1, 1.5, 3.0}) {
    const Matrix3d expected = rotation_from_vector(angle * axis);
    const Matrix3d turn = shortest_turn(2.0 * from, 5.0 * (expected * from));
    expect_rotation(turn);
    // the bisector of directions nearly opposed is short: it loses a digit or two
    EXPECT_LT((turn - expected).norm(), 100 * kRounding) << angle;
  }
}

TEST(ShortestTurn, BetweenOpposedDirectionsIsSomeHalfTurn) {
  const Vector3d from(0.0, 0.0, 1.0);
  for (const Vector3d& to : {Vector3d(0.0, 0.0, -1.0), Vector3d(1e-14, 0.0, -1.0)}) {
    const Matrix3d turn = shortest_turn(from, to);
    expect_rotation(turn);
    EXPECT_LT((turn * from - to).norm(), 1e-13);  // as far apart as the directions may be and still count as opposed
  }
}

}  // namespace
}  // namespace jigtrue
