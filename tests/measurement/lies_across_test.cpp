#include "jigtrue/measurement/lies_across.hpp"

#include <algorithm>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

struct OnSide {
  std::vector<int> lost;    // stretches without an edge
  std::vector<int> unlike;  // of another surface
};

// Sixteen stretches of either side.
OutlineFit sides(const OnSide& left, const OnSide& right) {
  OutlineFit fit;
  const auto among = [](const std::vector<int>& list, int k) {
    return std::find(list.begin(), list.end(), k) != list.end();
  };
  const auto add = [&](OutlinePart part, const OnSide& side) {
    for (int i = 0; i < 16; ++i) {
      EdgeBlock block;
      block.part = part;
      block.station_mm = -64.0 + 8.5 * i;
      block.used = !among(side.lost, i);
      block.inside = {among(side.unlike, i) ? 60.0 : 120.0 + 2.0 * (i % 3), -10.0, 12.0};
      fit.blocks.push_back(block);
    }
  };
  add(OutlinePart::left, left);
  add(OutlinePart::right, right);
  return fit;
}

TEST(LiesAcross, AnotherSurfaceWithoutEdgesOnBothSidesLiesAcross) {
  EXPECT_TRUE(something_across(sides({{7, 8}, {7, 8}}, {{7, 8}, {7, 8}})));
  EXPECT_TRUE(something_across(sides({{5}, {5}}, {{9}, {9}})));
}

TEST(LiesAcross, AClipARingAFaintOutlineAndATipDoNot) {
  EXPECT_FALSE(something_across(sides({}, {})));
  EXPECT_FALSE(something_across(sides({{6, 7, 8, 9}, {6, 7, 8, 9}}, {})));
  EXPECT_FALSE(something_across(sides({{}, {7, 8}}, {{}, {7, 8}})));
  EXPECT_FALSE(something_across(sides({{4, 5, 9}, {}}, {{4, 5, 9}, {}})));
  EXPECT_FALSE(something_across(sides({{0}, {0}}, {{0, 15}, {0, 15}})));
}

}  // namespace
}  // namespace jigtrue
