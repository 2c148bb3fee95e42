#include "jigtrue/inspection/beam_reading.hpp"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr double kOwn_mm = 0.02;
constexpr double kShared_mm = 0.01;

std::vector<BeamWitness> five_marks(std::mt19937& random, const Vector2d& shift, double turn_rad) {
  std::normal_distribution<double> normal;
  const Vector2d shared(kShared_mm * normal(random), kShared_mm * normal(random));
  std::vector<BeamWitness> marks;
  for (int i = 0; i < 5; ++i) {
    BeamWitness mark;
    mark.placed_mm = {200.0, 150.0 + 25.0 * i};
    const Vector2d arm = mark.placed_mm - Vector2d(200.0, 200.0);
    mark.off_mm = shift + turn_rad * Vector2d(-arm.y(), arm.x()) + shared +
                  Vector2d(kOwn_mm * normal(random), kOwn_mm * normal(random));
    mark.own_mm2 = kOwn_mm * kOwn_mm * Matrix2d::Identity();
    mark.shared_mm = kShared_mm * Matrix2d::Identity();
    marks.push_back(mark);
  }
  return marks;
}

TEST(BeamReading, StatesShiftAndTurnAsSurelyAsMarksTellThem) {
  std::mt19937 random(5);
  const Vector2d shift(0.3, -0.2);
  const double turn = 0.002;
  constexpr int kLoads = 2000;
  int x_inside = 0;
  int turn_inside = 0;
  for (int i = 0; i < kLoads; ++i) {
    const auto beam = read_beam(five_marks(random, shift, turn), {200.0, 200.0});
    ASSERT_TRUE(beam);
    x_inside += std::abs(beam->shift_mm.x() - shift.x()) <= beam->shift_u_mm.x();
    turn_inside += std::abs(beam->turn_deg - deg_from_rad(turn)) <= beam->turn_u_deg;
  }
  // 95 % of 2000 scatters by half a per cent; few marks that happen to scatter are widened, so a little more may lie
  // inside
  EXPECT_NEAR(x_inside / double{kLoads}, 0.96, 0.025);
  EXPECT_NEAR(turn_inside / double{kLoads}, 0.96, 0.025);
}

TEST(BeamReading, OneMarkTellsAShiftAndNoMoreThanItsOwnTurn) {
  std::mt19937 random(6);
  auto marks = five_marks(random, {0.3, -0.2}, 0.0);
  marks.resize(1);
  const auto beam = read_beam(marks, {200.0, 200.0});
  ASSERT_TRUE(beam);
  EXPECT_NEAR(beam->shift_mm.x(), 0.3, 0.1);
  EXPECT_NEAR(beam->turn_deg, 0.0, 1e-6);
  EXPECT_FALSE(read_beam({}, {200.0, 200.0}).has_value());
}

}  // namespace
}  // namespace jigtrue
