#include "jigtrue/measurement/both_looks.hpp"

#include "jigtrue/measurement/readiness.hpp"
#include "support/sample_result.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

MeasuredSlot found_at(double across_mm, double u_across_mm) {
  SlotResult slot = test::measured_slot({}, "1", {200, 150}, {0.8, across_mm}, -0.18);
  slot.numbers->across_mm = across_mm;
  slot.numbers->diameter_mm = 11.0;
  slot.numbers->uncertainty = {0.95, u_across_mm, 0.2, 0.1, 0.1};
  return {slot, {}, {}};
}

MeasuredSlot doubtful() {
  MeasuredSlot slot = found_at(0.0, 0.1);
  slot.result.state = SlotState::doubtful;
  slot.result.numbers.reset();
  return slot;
}

TEST(BothLooks, WhatThePhotoLeavesOpenTheBareJigMayTell) {
  EXPECT_TRUE(is_ready(of_both_looks(doubtful(), found_at(0.5, 0.1)).result));
  const SlotResult closer = of_both_looks(found_at(0.4, 0.4), found_at(0.5, 0.1)).result;
  EXPECT_TRUE(is_ready(closer));
  EXPECT_DOUBLE_EQ(closer.numbers->across_mm, 0.5);
}

TEST(BothLooks, ADarkLimbWithoutShadeBesideItIsItsShadowsRim) {
  MeasuredSlot lit = found_at(0.5, 0.1);
  for (const double light : {2.0, 0.5}) {
    lit.limb_light.blank = light;
    lit.limb_light.jig = 1.0;
    EXPECT_EQ(of_both_looks(doubtful(), lit).result.state, SlotState::doubtful);
    EXPECT_DOUBLE_EQ(of_both_looks(found_at(0.0, 0.2), lit).result.numbers->across_mm, 0.0);
    lit.limb_light.jig = light;  // in the shade as it is itself
    EXPECT_TRUE(is_ready(of_both_looks(doubtful(), lit).result));
    lit.limb_light.jig = 1.0 / light;
    EXPECT_EQ(of_both_looks(doubtful(), lit).result.state, SlotState::doubtful);
  }
  MeasuredSlot plate = found_at(0.5, 0.1);
  plate.result.numbers->diameter_mm.reset();
  EXPECT_EQ(of_both_looks(doubtful(), plate).result.state, SlotState::doubtful);
}

TEST(BothLooks, AJigThatSeemsToShineIsTheBlankItself) {
  MeasuredSlot highlight = found_at(0.5, 0.1);
  highlight.limb_light.thrown = 1.5;
  EXPECT_EQ(of_both_looks(doubtful(), highlight).result.state, SlotState::doubtful);
  highlight.limb_light.thrown = 0.5;
  EXPECT_TRUE(is_ready(of_both_looks(doubtful(), highlight).result));
}

TEST(BothLooks, WhatOneLookCallsEmptyTheOtherMustShowPlainly) {
  MeasuredSlot empty = doubtful();
  empty.result.state = SlotState::empty;
  MeasuredSlot faint = found_at(0.5, 0.1);
  faint.result.log_ratio = 30.0;
  EXPECT_EQ(of_both_looks(empty, faint).result.state, SlotState::empty);
  faint.result.log_ratio = 60.0;
  EXPECT_TRUE(is_ready(of_both_looks(empty, faint).result));
}

TEST(BothLooks, PlacesThatDisagreeAreStatedNoCloserThanTheyLieApart) {
  EXPECT_DOUBLE_EQ(of_both_looks(found_at(0.5, 0.1), found_at(0.6, 0.1)).result.numbers->uncertainty.across_mm, 0.1);
  const SlotResult near = of_both_looks(found_at(0.50, 0.03), found_at(0.55, 0.03)).result;
  EXPECT_TRUE(is_ready(near));
  EXPECT_GT(near.numbers->uncertainty.across_mm, 0.05);
  EXPECT_FALSE(is_ready(of_both_looks(found_at(0.5, 0.1), found_at(1.0, 0.1)).result));
  EXPECT_FALSE(is_ready(of_both_looks(found_at(0.5, 0.4), found_at(1.2, 0.1)).result));
}

TEST(BothLooks, WhatThePhotoTellsByItselfStays) {
  EXPECT_TRUE(is_ready(of_both_looks(found_at(0.5, 0.1), doubtful()).result));
  MeasuredSlot other = doubtful();
  other.result.state = SlotState::mismatch;
  EXPECT_EQ(of_both_looks(other, found_at(0.5, 0.1)).result.state, SlotState::mismatch);
}

}  // namespace
}  // namespace jigtrue
