// Which pieces of an invented load want another pass, and the layout for them.
#include "jigtrue/inspection/judge_looks.hpp"

#include "jigtrue/inspection/another_pass.hpp"

#include <string>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

InspectedSlot mark_of(double contrast, int number) {
  InspectedSlot slot;
  slot.id = std::to_string(number);
  slot.state = MarkState::marked;
  slot.contrast = contrast;
  slot.contrast_u = 0.02;
  slot.evenness = 0.95;
  slot.halo = 0.01;
  slot.halo_u = 0.01;
  slot.was_placed = true;
  slot.mark_mm = Vector2d(200.0, 100.0 + 25.0 * number);
  slot.mark_deg = 0.1;
  return slot;
}

InspectionResult load_of(const std::vector<double>& contrasts) {
  InspectionResult result;
  result.blanks.fixture_name = "five pens";
  for (const double contrast : contrasts) {
    const int number = static_cast<int>(result.slots.size()) + 1;
    result.slots.push_back(mark_of(contrast, number));
    SlotResult blank;
    blank.id = std::to_string(number);
    blank.state = SlotState::found;
    blank.nominal_centre_mm = {200.0, 100.0 + 25.0 * number};
    SlotNumbers numbers;
    numbers.centre_mm = blank.nominal_centre_mm;
    numbers.along_mm = 0.0;
    numbers.uncertainty.along_mm = 0.1;
    blank.numbers = numbers;
    result.blanks.slots.push_back(blank);
  }
  BeamReading beam;
  beam.about_mm = {200.0, 175.0};
  beam.shift_mm = {0.4, -0.2};
  result.beam = beam;
  return result;
}

bool gives_as_reason(const InspectedSlot& slot, const std::string& words) {
  for (const std::string& reason : slot.reasons)
    if (reason.find(words) != std::string::npos) return true;
  return false;
}

TEST(JudgeLooks, NamesWhatIsPalerThanTheRestAndLeavesTheOthers) {
  InspectionResult result = load_of({0.7, 0.65, 0.35, 0.75, 0.7});
  judge_looks({}, result);
  for (std::size_t i = 0; i < result.slots.size(); ++i) EXPECT_EQ(result.slots[i].wants_another_pass, i == 2) << i + 1;
  EXPECT_TRUE(gives_as_reason(result.slots[2], "pale: contrast 0.35"));
  // as sure as its contrast: a pale one that may as well be none is left
  InspectionResult unsure = load_of({0.7, 0.65, 0.48, 0.75, 0.7});
  unsure.slots[2].contrast_u = 0.1;
  judge_looks({}, unsure);
  EXPECT_FALSE(unsure.slots[2].wants_another_pass);
}

TEST(JudgeLooks, PaleMarksOnDarkBlanksCountByTheirSize) {
  InspectionResult result = load_of({-2.0, -1.9, -0.8, -2.1});
  judge_looks({}, result);
  EXPECT_TRUE(result.slots[2].wants_another_pass);
  EXPECT_FALSE(result.slots[0].wants_another_pass);
}

TEST(JudgeLooks, JudgesByEarlierLoads) {
  InspectionResult result = load_of({0.4, 0.41, 0.42, 0.39});
  judge_looks({}, result);
  EXPECT_TRUE(result.notes.empty());
  judge_looks({{0.7, 0.72, 0.71, 0.69}, 1}, result);
  ASSERT_FALSE(result.notes.empty());
  EXPECT_NE(result.notes.front().find("paler as a whole"), std::string::npos);
  for (const InspectedSlot& slot : result.slots) EXPECT_TRUE(slot.wants_another_pass) << slot.id;
}

TEST(JudgeLooks, ScorchedPiecesGetNoMoreOfTheSame) {
  InspectionResult result = load_of({0.7, 0.65, 0.35, 0.75, 0.7});
  result.slots[2].halo = 0.25;
  judge_looks({}, result);
  EXPECT_TRUE(gives_as_reason(result.slots[2], "scorched"));
  EXPECT_FALSE(result.slots[2].wants_another_pass);
}

TEST(AnotherPass, HoldsExactlyThePiecesThatWantItAsTheBeamMustBeTold) {
  InspectionResult result = load_of({0.7, 0.65, 0.35, 0.75, 0.7});
  result.slots[4] = mark_of(0.0, 5);
  result.slots[4].state = MarkState::unmarked;  // forgotten
  result.slots[4].contrast.reset();
  result.slots[4].mark_mm.reset();
  judge_looks({}, result);
  const Placement again = another_pass(result, {});
  ASSERT_EQ(again.placed.size(), 2U);
  EXPECT_EQ(again.placed[0].slot_id, "3");
  // its mark lies at (200, 175); the beam lands 0.4 to the right and 0.2 nearer
  EXPECT_NEAR(again.placed[0].bed_centre_mm.x(), 199.6, 1e-3);
  EXPECT_NEAR(again.placed[0].bed_centre_mm.y(), 175.2, 1e-3);
  EXPECT_EQ(again.placed[1].slot_id, "5");
  EXPECT_NEAR(again.placed[1].bed_centre_mm.x(), 199.6, 1e-3);
  EXPECT_EQ(again.left_out.size(), 3U);
}

}  // namespace
}  // namespace jigtrue
