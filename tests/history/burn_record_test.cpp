// The record of inspected loads.
#include "jigtrue/history/burn_record.hpp"

#include "jigtrue/history/load_record.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

BurnRecord burned(const std::string& digest, const std::string& load, double shift) {
  BurnRecord record{"2024-05-01T12:00:00Z", "burned.jpg", digest, load, "five pens", BeamOffset{}, {}};
  record.beam->shift_mm = {shift, -0.2};
  record.beam->shift_u_mm = {0.01, 0.02};
  record.beam->loads = 1;
  record.slots = {{"1", "marked", 0.4, 0.9, 0.01}, {"2", "unmarked", {}, {}, {}}};
  return record;
}

TEST(BurnRecord, ComesBackAsItWasWritten) {
  const auto loads = read_burn_records(burn_record_line(burned("a", "x", 0.3)) + "\n", "five pens");
  ASSERT_EQ(loads.size(), 1U);
  ASSERT_TRUE(loads[0].beam);
  EXPECT_EQ(loads[0].beam->shift_mm, Vector2d(0.3, -0.2));
  EXPECT_EQ(loads[0].beam->shift_u_mm, Vector2d(0.01, 0.02));
  ASSERT_EQ(loads[0].slots.size(), 2U);
  EXPECT_EQ(loads[0].slots[0].contrast, 0.4);
  EXPECT_FALSE(loads[0].slots[1].contrast);
}

TEST(BurnRecord, ALoadCountsOnceAndOtherLinesDoNot) {
  const std::string text = burn_record_line(burned("a", "x", 0.3)) + "\n" + burn_record_line(burned("b", "y", 0.4)) +
                           "\n{\"schema\": \"jigtrue.burn/1\", \"time\"\n{\"schema\": \"jigtrue.load/1\"}\n" +
                           burn_record_line(burned("c", "x", 0.5)) + "\n";
  const auto loads = read_burn_records(text, "five pens");
  ASSERT_EQ(loads.size(), 2U);
  EXPECT_EQ(loads[0].beam->shift_mm.x(), 0.5);  // the last photo of the first load
  EXPECT_TRUE(read_burn_records(text, "another jig").empty());
  // among checks' lines they are no damaged ones
  EXPECT_EQ(read_records(burn_record_line(burned("a", "x", 0.3)) + "\n").damaged, 0);
}

}  // namespace
}  // namespace jigtrue
