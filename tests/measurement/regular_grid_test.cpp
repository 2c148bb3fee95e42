#include "jigtrue/measurement/regular_grid.hpp"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

struct JigRow {
  double pitch_mm = 25.0;
  double turn_deg = 13.0;
  double scatter_mm = 0.3;
};

// Rods abreast in slots of one pitch, turned as the jig is, each lying by chance.
std::vector<Slot> abreast(const std::vector<int>& steps, const JigRow& row, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> chance(0.0, row.scatter_mm);
  const double turn = rad_from_deg(row.turn_deg);
  const Vector2d along(std::cos(turn), std::sin(turn));
  const Vector2d across(-along.y(), along.x());
  std::vector<Slot> slots;
  for (const int step : steps) {
    Slot slot;
    slot.blank.shape = RoundBlank{11.0, 138.0};
    slot.centre_mm = Vector2d(200.0, 150.0) + (step * row.pitch_mm + chance(random)) * across + chance(random) * along;
    slot.axis_deg = row.turn_deg + chance(random);
    slots.push_back(slot);
  }
  return slots;
}

TEST(RegularGrid, TellsPitchDirectionAndGap) {
  const auto grid = regular_grid(abreast({0, 1, 3, 4}, {}, 7));
  ASSERT_TRUE(grid);
  EXPECT_EQ(grid->rows, 5);
  EXPECT_EQ(grid->columns, 1);
  EXPECT_FALSE(grid->holds({2, 0}));
  EXPECT_NEAR(grid->row_pitch->mm, 25.0, grid->row_pitch->u_mm);
  EXPECT_NEAR(grid->axis_deg, 13.0, grid->u_axis_deg);
  EXPECT_FALSE(grid->column_pitch);
}

// 95 of 100 pitches lie within what is stated; of 400 rows 380 +/- 4.4 (binomial), so 362 are four sigma off.
TEST(RegularGrid, StatesItsPitchHonestly) {
  int within = 0;
  for (std::uint32_t seed = 0; seed < 400; ++seed) {
    const auto grid = regular_grid(abreast({0, 1, 2, 3, 4, 5}, {}, seed));
    ASSERT_TRUE(grid);
    within += std::abs(grid->row_pitch->mm - 25.0) <= grid->row_pitch->u_mm ? 1 : 0;
  }
  EXPECT_GE(within, 362);
  EXPECT_LE(within, 398);
}

TEST(RegularGrid, SeesNoneInPlacesThatAreNotEven) {
  auto slots = abreast({0, 1, 2, 3}, {}, 3);
  slots[2].centre_mm += Vector2d(-2.0, 9.0);
  EXPECT_FALSE(regular_grid(slots));
  EXPECT_FALSE(regular_grid(abreast({0, 1}, {}, 3)));
}

// Blanks laid by hand, 13 to 50 mm from one to the next. At most one row in five may look even, and as the hypotheses
// overlap, which counts chance several times over, less than one in ten does.
TEST(RegularGrid, SeldomTakesChanceForAGrid) {
  for (const std::size_t count : {3U, 4U, 5U, 7U}) {
    int taken = 0;
    for (std::uint32_t seed = 0; seed < 400; ++seed) {
      std::mt19937 random(seed);
      std::uniform_real_distribution<double> apart(13.0, 50.0);
      auto slots = abreast(std::vector<int>(count, 0), {}, seed);
      double place = 0.0;
      for (Slot& slot : slots) {
        const double turn = rad_from_deg(13.0);
        slot.centre_mm += place * Vector2d(-std::sin(turn), std::cos(turn));
        place += apart(random);
      }
      taken += regular_grid(slots) ? 1 : 0;
    }
    EXPECT_LE(taken, 40) << count;
  }
}

// Two rows are some pitch apart whatever they are: whether slots lie between them stays open.
TEST(RegularGrid, TwoRowsHaveNoPitch) {
  auto slots = abreast({0, 1, 2}, {54.0, 0.0, 0.3}, 5);
  for (Slot& slot : abreast({0, 1, 2}, {54.0, 0.0, 0.3}, 6)) {
    slot.centre_mm.x() += 280.0;
    slots.push_back(slot);
  }
  const auto grid = regular_grid(slots);
  ASSERT_TRUE(grid);
  EXPECT_EQ(grid->columns, 2);
  EXPECT_FALSE(grid->column_pitch);
  EXPECT_NEAR(grid->column_step_mm.norm(), 280.0, 1.0);
  ASSERT_TRUE(grid->row_pitch);
  EXPECT_NEAR(grid->row_pitch->mm, 54.0, grid->row_pitch->u_mm);
}

TEST(RegularGrid, SeesDiscsInAGridThatIsTurned) {
  std::vector<Slot> slots;
  const double turn = rad_from_deg(9.0);
  for (int row = 0; row < 3; ++row)
    for (int column = 0; column < 3; ++column) {
      if (row == 1 && column == 1) continue;
      Slot slot;
      slot.blank.shape = DiscBlank{40.0, 4.0};
      slot.centre_mm = Vector2d(100.0 + 55.0 * column * std::cos(turn) - 60.0 * row * std::sin(turn),
                                100.0 + 55.0 * column * std::sin(turn) + 60.0 * row * std::cos(turn));
      slots.push_back(slot);
    }
  const auto grid = regular_grid(slots);
  ASSERT_TRUE(grid);
  EXPECT_EQ(grid->rows * grid->columns, 9);
  EXPECT_FALSE(grid->holds({1, 1}));
  EXPECT_NEAR(std::min(grid->row_pitch->mm, grid->column_pitch->mm), 55.0, 1e-9);
}

}  // namespace
}  // namespace jigtrue
