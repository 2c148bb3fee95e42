// What a slot's readings come to where no outline is seen.
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

}  // namespace
}  // namespace jigtrue
