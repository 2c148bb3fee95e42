#include "jigtrue/inspection/apply_beam.hpp"

#include "support/input_error_text.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

BeamOffset known_offset() {
  BeamOffset offset;
  offset.about_mm = {200.0, 200.0};
  offset.shift_mm = {0.4, -0.2};
  offset.turn_deg = 0.1;
  offset.shift_u_mm = {0.03, 0.04};
  offset.turn_u_deg = 0.01;
  offset.loads = 1;
  return offset;
}

CheckResult one_pen(const Vector2d& centre_mm, double axis_deg) {
  CheckResult result;
  SlotResult slot;
  slot.id = "1";
  slot.state = SlotState::found;
  slot.nominal_centre_mm = centre_mm;
  SlotNumbers numbers;
  numbers.centre_mm = centre_mm;
  numbers.axis_deg = axis_deg;
  numbers.along_mm = 0.0;
  numbers.uncertainty.across_mm = 0.05;
  numbers.uncertainty.along_mm = 0.1;
  slot.numbers = numbers;
  result.slots.push_back(slot);
  return result;
}

// Where a beam that is off by `offset` lands when it is told a place.
Vector2d landing(const BeamOffset& offset, const Vector2d& told_mm) {
  const Eigen::Rotation2Dd turn(rad_from_deg(offset.turn_deg));
  return offset.about_mm + turn * (told_mm - offset.about_mm) + offset.shift_mm;
}

TEST(ApplyBeam, SendsTheBeamToWhereTheBlankLies) {
  const Vector2d blank(120.0, 290.0);
  CheckResult result = one_pen(blank, 0.3);
  apply_beam(known_offset(), "inspection.json", result);
  const SlotNumbers& told = *result.slots.front().numbers;
  // the turn is taken as small: 0.1 deg over 120 mm leaves 0.0002 mm, its product with the shift 0.0007
  EXPECT_LT((landing(known_offset(), told.centre_mm) - blank).norm(), 0.001);
  EXPECT_NEAR(told.axis_deg + 0.1, 0.3, 1e-9);
  EXPECT_NEAR(told.offset_mm.y(), told.across_mm, 1e-9);
  // 0.04 of the shift, and 80 mm to the left times 0.01 deg
  EXPECT_NEAR(told.uncertainty.across_mm, std::hypot(0.05, std::hypot(0.04, 80.0 * rad_from_deg(0.01))), 1e-6);
  ASSERT_FALSE(result.notes.empty());
  EXPECT_NE(result.notes.front().find("+0.40 mm in X"), std::string::npos);
}

TEST(ApplyBeam, TakesOffOfTheStretchWhatIsSure) {
  BeamOffset offset = known_offset();
  offset.turn_deg = 0.0;
  offset.stretch.scale_x = Figure{0.002, 0.0005};  // sure
  offset.stretch.scale_y = Figure{0.001, 0.0009};  // not at 99 %
  offset.stretch.square_deg = Figure{0.12, 0.03};  // sure
  CheckResult result = one_pen({300.0, 250.0}, 90.0);
  apply_beam(offset, "inspection.json", result);
  const SlotNumbers& told = *result.slots.front().numbers;
  EXPECT_NEAR(told.centre_mm.x(), 300.0 - 0.4 - 0.002 * 100.0 + rad_from_deg(0.12) * 50.0, 1e-9);
  EXPECT_NEAR(told.centre_mm.y(), 250.0 + 0.2, 1e-9);
  EXPECT_NEAR(told.axis_deg, 90.0 - 0.12, 1e-9);  // along Y, which leans by the whole of it
}

TEST(ApplyBeam, CorrectsNoFaultTwice) {
  CheckResult twice = one_pen({200.0, 200.0}, 0.0);
  apply_beam(known_offset(), "inspection.json", twice);
  EXPECT_NE(test::input_error_text([&] { apply_beam(known_offset(), "inspection.json", twice); }).find("already"),
            std::string::npos);
  CheckResult with_machine = one_pen({200.0, 200.0}, 0.0);
  with_machine.machine_applied = true;
  EXPECT_NE(test::input_error_text([&] {
              apply_beam(known_offset(), "inspection.json", with_machine);
            }).find("a second time"),
            std::string::npos);
  BeamOffset beyond_machine = known_offset();
  beyond_machine.machine_applied = true;
  CheckResult plain = one_pen({200.0, 200.0}, 0.0);
  EXPECT_NE(test::input_error_text([&] {
              apply_beam(beyond_machine, "inspection.json", plain);
            }).find("give --apply-machine as well"),
            std::string::npos);
}

TEST(ApplyBeam, SeveralLoadsAreSurerUnlessTheyDisagree) {
  BeamOffset other = known_offset();
  other.shift_mm = {0.42, -0.2};
  const BeamOffset both = combined({known_offset(), other, known_offset(), other});
  EXPECT_NEAR(both.shift_mm.x(), 0.41, 1e-9);
  EXPECT_EQ(both.loads, 4);
  EXPECT_LT(both.shift_u_mm.y(), 0.021);
  other.shift_mm = {0.9, -0.2};
  EXPECT_GT(combined({known_offset(), other}).shift_u_mm.x(), 0.3);
  // a quarter of the half-width takes sixteen times as many loads
  EXPECT_EQ(loads_for(0.04, 1, 0.01), 16);
  EXPECT_EQ(loads_for(0.04, 3, 0.1), 3);
}

}  // namespace
}  // namespace jigtrue
