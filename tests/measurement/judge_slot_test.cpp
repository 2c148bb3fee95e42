// What a slot's readings come to.
#include "jigtrue/measurement/judge_slot.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

Readings without_an_outline(double two_materials) {
  Reading reading;
  reading.declared_size = true;
  reading.two_materials = two_materials;
  Readings readings;
  readings.in_picture = true;
  readings.declared = {reading};
  return readings;
}

TEST(JudgeSlot, CallsASlotEmptyOnlyWhereNothingOfAnotherMaterialLies) {
  Blank blank;
  blank.shape = RoundBlank{10.0, 140.0};
  EXPECT_EQ(judge(blank, without_an_outline(-6.0)).state, SlotState::empty);
  // as things of another colour than the ground show on real photographs: 20 and more
  const Judgement judgement = judge(blank, without_an_outline(20.0));
  EXPECT_EQ(judgement.state, SlotState::doubtful);
  EXPECT_FALSE(judgement.remedy.empty());
}

// A disc of 25 mm whose outline is seen all round, `smaller_mm` inside the declared one.
Reading disc_read(double smaller_mm, bool declared, double log_ratio_a_part) {
  Reading reading;
  reading.declared_size = declared;
  reading.fit.place.girth_mm = reading.fit.girth_free_mm = -smaller_mm;
  reading.fit.girth_free_sigma_mm = 0.05;
  reading.evidence.fill({log_ratio_a_part, 3, 3});
  reading.two_materials = 20.0;
  return reading;
}

Blank coin() {
  Blank blank;
  blank.shape = DiscBlank{25.0, 2.0};
  blank.diameter_tolerance_mm = 0.15;
  return blank;
}

// An edge that is rounded or chamfered by a quarter of a millimetre is so all round: the disc is seen half a millimetre
// smaller than callipers find it, and never larger.
TEST(JudgeSlot, ADiscIsSeenWithinItsRoundedRim) {
  Readings readings;
  readings.in_picture = true;
  readings.declared = {disc_read(0.6, true, 12.0)};
  EXPECT_EQ(judge(coin(), readings).state, SlotState::found);
  readings.declared = {disc_read(0.7, true, 12.0)};
  EXPECT_NE(judge(coin(), readings).state, SlotState::found);
  readings.declared = {disc_read(-0.6, true, 12.0)};
  EXPECT_NE(judge(coin(), readings).state, SlotState::found);
}

TEST(JudgeSlot, ARingOnADiscsFaceIsNoSmallerDisc) {
  Readings readings;
  readings.in_picture = true;
  readings.other_sizes = {disc_read(7.0, false, 14.0)};
  EXPECT_EQ(judge(coin(), readings).state, SlotState::mismatch);
  // the declared outline is seen around it, but not well enough to be measured: three of four quadrants, and one of
  // these by half of its stretches only
  Reading declared = disc_read(0.75, true, 9.0);
  declared.evidence[2] = {-1.0, 3, 1};
  readings.declared = {declared};
  const Judgement judgement = judge(coin(), readings);
  EXPECT_EQ(judgement.state, SlotState::doubtful);
  EXPECT_NE(judgement.reasons.front().find("ring"), std::string::npos) << judgement.reasons.front();
}

}  // namespace
}  // namespace jigtrue
