// What a load's blanks and slots have in common, and each slot judged by it. Rows of invented rods of 138 x 11 mm in
// vees, 24 mm apart.
#include "jigtrue/measurement/judge_by_load.hpp"

#include "jigtrue/measurement/readiness.hpp"
#include "support/sample_result.hpp"

#include <array>
#include <cmath>
#include <numeric>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

const Vector2d kCameraFoot_mm(190.0, 20.0);

struct Row {
  Fixture fixture;
  PhotoFindings result;

  explicit Row(int slots, double declared_length_mm = 138.0) {
    for (int i = 0; i < slots; ++i) {
      Slot slot;
      slot.id = std::to_string(i + 1);
      slot.centre_mm = {200.0, 100.0 + 24.0 * i};
      slot.blank.shape = RoundBlank{11.0, declared_length_mm};
      slot.seat.kind = VeeSeat{6.0, 90.0};
      fixture.slots.push_back(slot);
      // a jig put down 0.3 mm and 0.2 degrees off, blanks that stray by some hundredths of a millimetre
      const double stray = 0.02 * ((7 * i) % 5 - 2);
      result.slots.push_back(
          test::measured_slot({}, slot.id, slot.centre_mm, {0.4 * ((3 * i) % 5 - 2), 0.3 + stray}, 0.2));
      SlotResult& last = result.slots.back();
      last.numbers->diameter_mm = 11.0 + stray;
      last.numbers->budget = {{"edges and limbs", 0.02, 0.05, 0.01}};
      last.length = MeasuredLength{true, true, 138.0, 138.3 + stray, 0.15};
    }
  }
  // Only its start is seen: what the uncertainty says then.
  void hide_end(std::size_t slot, double taken_mm = 138.0) {
    result.slots[slot].length = MeasuredLength{true, false, taken_mm, std::nullopt, 0.0};
    result.slots[slot].numbers->budget.push_back({"an end unseen", 0.0, 1.2, 0.0});
    result.slots[slot].numbers->uncertainty.along_mm = 1.96 * std::hypot(0.05, 1.2);
  }
  [[nodiscard]] SlotState state(std::size_t slot) const { return result.slots[slot].state; }
  [[nodiscard]] std::string notes() const {
    return std::accumulate(result.notes.begin(), result.notes.end(), std::string());
  }
};

TEST(JudgeByLoad, LeavesASoundLoadAlone) {
  Row row(6);
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_TRUE(row.result.notes.empty()) << row.notes();
  for (const SlotResult& slot : row.result.slots) EXPECT_TRUE(is_ready(slot)) << slot.id;
}

TEST(JudgeByLoad, PutsAnUnseenEndWhereTheLoadsOwnLengthHasIt) {
  Row row(5);
  row.hide_end(2);
  const double along = *row.result.slots[2].numbers->along_mm;
  EXPECT_FALSE(is_ready(row.result.slots[2]));
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  // 138.3 instead of the 138.0 taken: the centre lies half of that further from the start that is seen
  EXPECT_NEAR(*row.result.slots[2].numbers->along_mm, along + 0.15, 0.02);
  EXPECT_TRUE(is_ready(row.result.slots[2]));
}

TEST(JudgeByLoad, AnEndBesideWhichLiesAnotherEdgeIsSettledByTheLength) {
  Row row(5);
  row.result.slots[1].numbers->budget.push_back({"one edge or another", 0.0, 0.98, 0.0});
  row.result.slots[1].numbers->uncertainty.along_mm = 1.96 * std::hypot(0.05, 0.98);
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_TRUE(is_ready(row.result.slots[1]));
}

// Grooves share the jig: a blank whose own edges tell little lies where they say, as far as they can.
TEST(JudgeByLoad, ABlankInAVeeIsPlacedAcrossByItsRowToo) {
  Row row(6);
  SlotNumbers& n = *row.result.slots[5].numbers;
  n.offset_mm.y() += 0.3;
  n.centre_mm.y() += 0.3;
  n.across_mm += 0.3;
  n.uncertainty.across_mm = 0.45;
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_TRUE(is_ready(row.result.slots[5]));
  EXPECT_LE(std::abs(row.result.slots[5].numbers->across_mm - 0.3), row.result.slots[5].numbers->uncertainty.across_mm);
}

TEST(JudgeByLoad, WithoutALengthOfTheLoadsOwnAnUnseenEndStaysUnknown) {
  Row row(3);
  for (const std::size_t slot : {0U, 1U, 2U}) row.hide_end(slot);
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  for (const SlotResult& slot : row.result.slots) EXPECT_FALSE(is_ready(slot));
}

TEST(JudgeByLoad, ALengthDeclaredWronglyIsSaidOnceAndNoEndGuessedByIt) {
  Row row(5, 144.0);
  for (const std::size_t slot : {0U, 1U, 2U}) row.result.slots[slot].state = SlotState::mismatch;
  for (const std::size_t slot : {3U, 4U}) row.hide_end(slot, 144.0);
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  ASSERT_EQ(row.result.notes.size(), 1U) << row.notes();
  EXPECT_NE(row.notes().find("3 blanks measure 138.3 mm in length; the file says 144.0 mm"), std::string::npos)
      << row.notes();
  for (const std::size_t slot : {3U, 4U}) EXPECT_EQ(row.state(slot), SlotState::doubtful);
  for (const std::size_t slot : {0U, 1U, 2U}) EXPECT_EQ(row.state(slot), SlotState::mismatch);
}

TEST(JudgeByLoad, NamesTheOddOne) {
  Row row(6);
  row.result.slots[1].length->own_mm = 136.0;
  row.result.slots[4].numbers->diameter_mm = 10.0;
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_EQ(row.state(1), SlotState::doubtful);
  EXPECT_NE(row.result.slots[1].reasons.front().find("length measures 136.0 mm"), std::string::npos);
  EXPECT_EQ(row.state(4), SlotState::doubtful);
  EXPECT_NE(row.result.slots[4].reasons.front().find("diameter measures 10.00 mm"), std::string::npos);
  for (const std::size_t slot : {0U, 2U, 3U, 5U}) EXPECT_TRUE(is_ready(row.result.slots[slot]));
}

TEST(JudgeByLoad, FewOfTheDeclaredSizeAmongMoreOfAnotherAreDoubted) {
  Row row(5);
  for (const std::size_t slot : {0U, 1U, 2U}) {
    row.result.slots[slot].state = SlotState::mismatch;
    row.result.slots[slot].numbers->diameter_mm = 9.9;
  }
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  for (const std::size_t slot : {3U, 4U}) EXPECT_EQ(row.state(slot), SlotState::doubtful);
  // one wrong blank says nothing about the others
  Row one(5);
  one.result.slots[0].state = SlotState::mismatch;
  one.result.slots[0].numbers->diameter_mm = 9.9;
  judge_by_load(one.fixture, kCameraFoot_mm, one.result);
  for (const std::size_t slot : {1U, 2U, 3U, 4U}) EXPECT_TRUE(is_ready(one.result.slots[slot]));
}

TEST(JudgeByLoad, ADiameterDeclaredWronglyIsSaidOnceAndNothingEngravedByIt) {
  Row row(5);
  for (SlotResult& slot : row.result.slots) *slot.numbers->diameter_mm -= 0.6;
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  ASSERT_EQ(row.result.notes.size(), 1U) << row.notes();
  EXPECT_NE(row.notes().find("5 blanks measure 10.4 mm in diameter; the file says 11.0 mm"), std::string::npos);
  for (const SlotResult& slot : row.result.slots) EXPECT_EQ(slot.state, SlotState::doubtful);
}

void lengthen(Row& row, double by_mm) {
  for (SlotResult& slot : row.result.slots) *slot.length->own_mm += by_mm;
}

// On a floor blanks lie anywhere, so the row's slope does not tell a height: 3 mm of it under a camera at 450 mm
// lengthens 138 mm by 0.92, and moves what lies 80 mm from the camera's foot by 0.53.
TEST(JudgeByLoad, BlanksThatAreAllLongerAlikeMayLieHigher) {
  Row row(3);
  lengthen(row, 0.62);
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_NE(row.notes().find("they lie higher"), std::string::npos) << row.notes();
  for (const SlotResult& slot : row.result.slots) {
    EXPECT_GE(slot.numbers->uncertainty.across_mm, 0.52) << slot.id;
    EXPECT_FALSE(is_ready(slot)) << slot.id;
  }
}

TEST(JudgeByLoad, ARowThatIsNoWiderForItTellsThatOnlyTheBlanksAreLonger) {
  Row row(6);
  lengthen(row, 0.62);
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_NE(row.notes().find("if they are, correct it"), std::string::npos) << row.notes();
  for (const SlotResult& slot : row.result.slots) EXPECT_TRUE(is_ready(slot)) << slot.id;
}

// A jig cut by hand: what its grooves scatter by is no sign that one blank lies beside its own.
TEST(JudgeByLoad, GroovesThatScatterHoldTheirBlanksAllTheSame) {
  Row row(5);
  const std::array<double, 5> off_mm{-0.4, 0.45, 0.4, -0.35, -0.3};
  for (std::size_t i = 0; i < off_mm.size(); ++i) row.result.slots[i].numbers->offset_mm.y() += off_mm[i];
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  for (std::size_t i = 0; i < off_mm.size(); ++i) EXPECT_EQ(row.state(i), SlotState::found) << i;
}

// Four other grooves that scatter by some tenths of a millimetre say little of where a fifth one is: by the
// regression's prediction (Draper & Smith, Applied Regression Analysis) one more may lie 0.6 mm and more off their line
// at its end.
TEST(JudgeByLoad, GroovesThatScatterDoNotMoveABlankOutOfItsOwn) {
  Row row(5);
  const std::array<double, 5> off_mm{-0.4, 0.45, 0.4, -0.35, -0.3};
  for (std::size_t i = 0; i < off_mm.size(); ++i) row.result.slots[i].numbers->offset_mm.y() += off_mm[i];
  SlotNumbers& first = *row.result.slots[0].numbers;
  first.uncertainty.across_mm = 1.0;
  const double measured_mm = first.offset_mm.y();
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  ASSERT_TRUE(row.result.slots[0].numbers);
  EXPECT_LE(std::abs(first.offset_mm.y() - measured_mm), 0.5 * 1.0);
}

void slope(Row& row, double share) {
  for (std::size_t i = 0; i < row.result.slots.size(); ++i) {
    SlotNumbers& n = *row.result.slots[i].numbers;
    const double more = share * 24.0 * static_cast<double>(i);
    n.offset_mm.y() += more;
    n.centre_mm.y() += more;
    n.across_mm += more;
  }
}

// 3 mm of height under a camera at 450 mm: dz / h = 0.0067 (similar triangles).
TEST(JudgeByLoad, OffsetsThatGrowAlongTheRowPointToAHeightOrToDistances) {
  Row row(6);
  slope(row, -3.0 / 450.0);
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_NE(row.notes().find("height"), std::string::npos) << row.notes();
  for (const SlotResult& slot : row.result.slots) EXPECT_FALSE(is_ready(slot)) << slot.id;
}

TEST(JudgeByLoad, AWrongPitchIsSaidToBeOne) {
  Row row(5);
  slope(row, -1.0 / 25.0);
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_NE(row.notes().find("do not lie as far apart"), std::string::npos) << row.notes();
  for (const SlotResult& slot : row.result.slots) EXPECT_FALSE(is_ready(slot)) << slot.id;
}

TEST(JudgeByLoad, ABlankThatAVeeCouldNotHoldThereIsDoubted) {
  Row row(6);
  row.result.slots[3].numbers->offset_mm.y() += 1.5;
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_EQ(row.state(3), SlotState::doubtful);
  for (const std::size_t slot : {0U, 1U, 2U, 4U, 5U}) EXPECT_TRUE(is_ready(row.result.slots[slot]));
}

TEST(JudgeByLoad, OneSlotReadAmongManyThatCannotBeIsNotBelieved) {
  Row row(8);
  for (const std::size_t slot : {0U, 1U, 2U, 4U, 5U, 6U, 7U}) {
    row.result.slots[slot].state = SlotState::doubtful;
    row.result.slots[slot].numbers.reset();
  }
  judge_by_load(row.fixture, kCameraFoot_mm, row.result);
  EXPECT_EQ(row.state(3), SlotState::doubtful);
  // where the others are empty it is the one blank loaded
  Row alone(8);
  for (const std::size_t slot : {0U, 1U, 2U, 4U, 5U, 6U, 7U}) {
    alone.result.slots[slot].state = SlotState::empty;
    alone.result.slots[slot].numbers.reset();
  }
  judge_by_load(alone.fixture, kCameraFoot_mm, alone.result);
  EXPECT_EQ(alone.state(3), SlotState::found);
}

}  // namespace
}  // namespace jigtrue
