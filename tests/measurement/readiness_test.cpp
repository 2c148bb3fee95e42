#include "jigtrue/measurement/readiness.hpp"

#include "support/sample_result.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

SlotResult found_slot() { return test::measured_slot({}, "1", {200, 150}, {0.8, 0.5}, -0.18); }

TEST(Readiness, WithinTheNeedASlotIsReady) {
  SlotResult slot = found_slot();
  slot.numbers->uncertainty = {0.95, 0.3, 1.0, 0.5, 0.1};
  EXPECT_TRUE(is_ready(slot));
}

TEST(Readiness, EachHalfWidthBeyondTheNeedIsNamedWithWhatHelps) {
  SlotResult slot = found_slot();
  slot.numbers->uncertainty = {0.95, 0.31, 1.93, 0.51, 0.1};
  slot.numbers->budget = {{"an end unseen", 0.01, 1.2, 0.01}, {"shade beside the limbs", 0.15, 0.1, 0.25}};
  EXPECT_FALSE(is_ready(slot));
  const auto list = obstacles(slot);
  ASSERT_EQ(list.size(), 3u);
  EXPECT_EQ(list[0].what, "its place across is known only to +/- 0.31 mm, needed is +/- 0.30 mm");
  EXPECT_EQ(list[1].what, "its place along is known only to +/- 1.93 mm, needed is +/- 1.00 mm");
  EXPECT_EQ(list[2].what, "its turn is known only to +/- 0.51 deg, needed is +/- 0.50 deg");
  EXPECT_NE(list[0].remedy.find("light"), std::string::npos);
  EXPECT_NE(list[1].remedy.find("both its ends"), std::string::npos);
}

TEST(Readiness, TheFixtureSaysWhatIsNeeded) {
  SlotResult slot = found_slot();
  slot.numbers->uncertainty.along_mm = 1.9;
  EXPECT_FALSE(is_ready(slot));
  slot.need.along_mm = 2.0;
  EXPECT_TRUE(is_ready(slot));
}

TEST(Readiness, APlaceAlongThatWasNotMeasuredIsNotWithinAnyNeed) {
  SlotResult slot = found_slot();
  slot.numbers->along_mm.reset();
  slot.numbers->uncertainty.along_mm.reset();
  slot.need.along_mm = 100.0;
  EXPECT_FALSE(is_ready(slot));
}

TEST(Readiness, OnlyAFoundSlotWhoseDesignFitsIsReady) {
  SlotResult slot = found_slot();
  slot.design_fits.reset();  // none is declared
  EXPECT_TRUE(is_ready(slot));
  slot.design_fits = false;
  EXPECT_FALSE(is_ready(slot));
  slot = found_slot();
  for (const SlotState state : {SlotState::empty, SlotState::mismatch, SlotState::doubtful}) {
    slot.state = state;
    EXPECT_FALSE(is_ready(slot));
  }
}

}  // namespace
}  // namespace jigtrue
