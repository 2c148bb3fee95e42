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

// Eight marks in two columns tell both scales and the squareness; five in a row tell nothing of the scale across it.
TEST(BeamReading, TellsScaleAndSquarenessAsFarAsTheMarksSpread) {
  std::mt19937 random(7);
  std::normal_distribution<double> normal;
  const Vector2d about(200.0, 200.0);
  const double scale_x = 0.0015;
  const double scale_y = -0.0008;
  const double square = 0.0006;
  int inside = 0;
  constexpr int kLoads = 1000;
  for (int load = 0; load < kLoads; ++load) {
    std::vector<BeamWitness> marks;
    for (int i = 0; i < 8; ++i) {
      BeamWitness mark;
      const int row = i / 2;
      mark.placed_mm = {i % 2 == 0 ? 130.0 : 270.0, 140.0 + 40.0 * row};
      const Vector2d arm = mark.placed_mm - about;
      mark.off_mm = Vector2d(scale_x * arm.x() - square * arm.y(), scale_y * arm.y()) +
                    kOwn_mm * Vector2d(normal(random), normal(random));
      mark.own_mm2 = kOwn_mm * kOwn_mm * Matrix2d::Identity();
      mark.shared_mm = MatrixXd::Zero(2, 1);
      marks.push_back(mark);
    }
    const auto beam = read_beam(marks, about);
    ASSERT_TRUE(beam && beam->stretch.scale_x && beam->stretch.scale_y && beam->stretch.square_deg);
    inside += std::abs(beam->stretch.scale_x->value - scale_x) <= beam->stretch.scale_x->u95;
    inside += std::abs(beam->stretch.scale_y->value - scale_y) <= beam->stretch.scale_y->u95;
    inside +=
        std::abs(rad_from_deg(beam->stretch.square_deg->value) - square) <= rad_from_deg(beam->stretch.square_deg->u95);
  }
  EXPECT_NEAR(inside / (3.0 * kLoads), 0.96, 0.025);
  const auto row = read_beam(five_marks(random, Vector2d(0.0, 0.0), 0.0), about);
  ASSERT_TRUE(row);
  EXPECT_FALSE(row->stretch.scale_x);
  EXPECT_TRUE(row->stretch.scale_y);
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
