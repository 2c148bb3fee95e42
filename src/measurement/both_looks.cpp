#include "jigtrue/measurement/both_looks.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/measurement/readiness.hpp"

#include <cmath>

namespace jigtrue {
namespace {

// What is measured twice may lie as far apart as both half-widths allow. Further apart either is wrong as often as
// right, and the truth may lie beyond both: the distance is then taken for one sigma.
double beyond_both(double apart, double u_first, double u_second) {
  return std::abs(apart) > std::hypot(u_first, u_second) ? std::abs(apart) : 0.0;
}

void widen(double by_sigma, double& half_width) { half_width = std::hypot(half_width, kCoverageFactor95 * by_sigma); }

void widen_by_disagreement(SlotNumbers& numbers, const SlotNumbers& other) {
  ExpandedUncertainty& u = numbers.uncertainty;
  const ExpandedUncertainty& v = other.uncertainty;
  BudgetShare share{cause::kOneEdgeOrAnother, 0.0, 0.0, 0.0};
  share.across_mm = beyond_both(numbers.across_mm - other.across_mm, u.across_mm, v.across_mm);
  share.rotation_deg = beyond_both(numbers.rotation_deg - other.rotation_deg, u.rotation_deg, v.rotation_deg);
  if (numbers.along_mm && other.along_mm)
    share.along_mm =
        beyond_both(*numbers.along_mm - *other.along_mm, u.along_mm.value_or(0.0), v.along_mm.value_or(0.0));
  if (share.across_mm == 0.0 && share.along_mm == 0.0 && share.rotation_deg == 0.0) return;
  widen(share.across_mm, u.across_mm);
  if (u.along_mm) widen(share.along_mm, *u.along_mm);
  widen(share.rotation_deg, u.rotation_deg);
  numbers.budget.push_back(share);
}

bool is_plate(const SlotResult& measured) { return !measured.numbers->diameter_mm; }

// A limb away from the light is dark, and so is the shadow that it throws: of the same wood the two are one, and its
// rim looks like the limb's. Blanks that are lit this unevenly from side to side are not told by what differs from the
// bare jig alone: eight traced slots that measured 0.4 to 0.6 mm off there were lit 1.6 to 2.2 times as brightly on one
// side as on the other, in even light it is 0.96 to 1.26. A plate's face is lit alike up to both its edges and tells
// nothing of its shadow.
bool shadow_may_pass_for_a_side(const SlotResult& slot) {
  constexpr double kUneven = 1.5;
  return is_plate(slot) || slot.sides_light > kUneven || slot.sides_light < 1.0 / kUneven;
}

}  // namespace

SlotResult of_both_looks(SlotResult alone, SlotResult on_jig) {
  if (on_jig.state != SlotState::found || !on_jig.numbers || alone.state == SlotState::mismatch) return alone;
  if (alone.state == SlotState::found && alone.numbers) {
    const bool told_alone = is_ready(alone);
    const SlotNumbers first = *alone.numbers;
    widen_by_disagreement(*alone.numbers, *on_jig.numbers);
    widen_by_disagreement(*on_jig.numbers, first);
    // a plate's edges and its own side are measured more closely with all that may lie beside them
    if (told_alone) return is_ready(on_jig) && !is_plate(on_jig) ? on_jig : alone;
  }
  return is_ready(on_jig) && !shadow_may_pass_for_a_side(on_jig) ? on_jig : alone;
}

}  // namespace jigtrue
