// Places corrected for the machine's own errors: what changes, what does not, and that it is said.
#include "jigtrue/layout/apply_machine.hpp"

#include "jigtrue/layout/layout_svg.hpp"
#include "jigtrue/layout/placement.hpp"
#include "support/sample_result.hpp"

#include <cmath>
#include <stdexcept>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// X is to be told 0.2 % less, and the axes lean by a milliradian.
CheckResult with_machine() {
  CheckResult result = test::sample_result();
  MachineReading machine;
  machine.figures = {{0.002, 0.0004}, {0.057, 0.02}, std::nullopt, std::nullopt, 0.03, 9};
  machine.map.middle_mm = {200.0, 200.0};
  machine.map.beam_from_bed << 0.998, 0.001, 0.0, 1.0;
  machine.map.covariance = Vector2d(4e-8, 3e-8).asDiagonal();
  result.machine = machine;
  return result;
}

TEST(ApplyMachine, MovesAndTurnsEveryPlaceByTheMap) {
  const CheckResult before = with_machine();
  CheckResult after = before;
  apply_machine(after);
  EXPECT_TRUE(after.machine_applied);
  int measured = 0;
  for (std::size_t i = 0; i < before.slots.size(); ++i) {
    if (!before.slots[i].numbers) {
      EXPECT_FALSE(after.slots[i].numbers);
      continue;
    }
    const SlotNumbers& was = *before.slots[i].numbers;
    const SlotNumbers& is = *after.slots[i].numbers;
    if (!was.along_mm) continue;
    ++measured;
    const Vector2d told(200.0 + 0.998 * (was.centre_mm.x() - 200.0) + 0.001 * (was.centre_mm.y() - 200.0),
                        was.centre_mm.y());
    EXPECT_LE((is.centre_mm - told).norm(), 1e-9) << i;
    EXPECT_LE((is.centre_mm - is.offset_mm - before.slots[i].nominal_centre_mm).norm(), 1e-9) << i;
    EXPECT_LE((is.centre_mm - *is.machine_correction_mm - was.centre_mm).norm(), 1e-9) << i;
    // along and across are the offset in the slot's frame, as ever
    const double a = rad_from_deg(before.slots[i].nominal_axis_deg);
    EXPECT_NEAR(*is.along_mm, is.offset_mm.dot(Vector2d(std::cos(a), std::sin(a))), 1e-9) << i;
    EXPECT_NEAR(is.across_mm, is.offset_mm.dot(Vector2d(-std::sin(a), std::cos(a))), 1e-9) << i;
    EXPECT_NEAR(is.axis_deg - was.axis_deg, is.rotation_deg - was.rotation_deg, 1e-9) << i;
  }
  EXPECT_EQ(measured, 5);
  // slot 8 lies along Y: told so that it stands upright, it leans by the squareness, a milliradian clockwise
  EXPECT_NEAR(after.slots[7].numbers->axis_deg - before.slots[7].numbers->axis_deg, -deg_from_rad(0.001), 1e-3);
}

// Nominal places are the machine's own already: where nobody measured along, nothing along is corrected.
TEST(ApplyMachine, LeavesAPlaceAlongThatWasNotMeasured) {
  CheckResult result = with_machine();
  const double x = result.slots[6].numbers->centre_mm.x();
  apply_machine(result);
  EXPECT_FALSE(result.slots[6].numbers->along_mm);
  EXPECT_NEAR(result.slots[6].numbers->centre_mm.x(), x, 1e-12);
}

TEST(ApplyMachine, IsSaidWithItsFiguresAndItsUncertainty) {
  CheckResult result = with_machine();
  EXPECT_NE(machine_note(result).find(
                "not applied (--apply-machine does): left alone they put a design off by up to 0.176 mm +/- 0.022"),
            std::string::npos)
      << machine_note(result);
  apply_machine(result);
  const std::string note = machine_note(result);
  for (const char* part : {"errors were applied", "9 burned marks", "scale along X less Y +0.200 % +/- 0.040 %",
                           "angle from X to Y less 90 deg +0.057 deg +/- 0.020 deg",
                           "largest correction is 0.176 mm +/- 0.022 mm", "(slot 8)"})
    EXPECT_NE(note.find(part), std::string::npos) << part << "\n" << note;
  EXPECT_NE(layout_svg(place_designs(result, std::nullopt), "pens", std::nullopt).find("corrected for the machine"),
            std::string::npos);
}

// Figures that might as well be noise are not applied, and that is said.
TEST(ApplyMachine, CorrectsNothingThatIsSmallerThanItsUncertainty) {
  CheckResult result = with_machine();
  result.machine->figures.scale_x_less_y.u95 = 0.003;
  result.machine->figures.squareness_deg.u95 = 0.1;
  result.machine->map.beam_from_bed = Matrix2d::Identity();  // as the file of such a sheet has it
  EXPECT_TRUE(machine_note(result).empty());
  const Vector2d before = result.slots[0].numbers->centre_mm;
  apply_machine(result);
  EXPECT_EQ(result.slots[0].numbers->centre_mm, before);
  EXPECT_NE(machine_note(result).find("nothing was corrected"), std::string::npos) << machine_note(result);
}

TEST(ApplyMachine, IsNeverDoneTwice) {
  CheckResult result = with_machine();
  apply_machine(result);
  EXPECT_THROW(apply_machine(result), std::logic_error);
  CheckResult bare = test::sample_result();
  EXPECT_THROW(apply_machine(bare), std::logic_error);
  EXPECT_TRUE(machine_note(bare).empty());
}

}  // namespace
}  // namespace jigtrue
