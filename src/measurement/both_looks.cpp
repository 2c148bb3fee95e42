#include "jigtrue/measurement/both_looks.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/measurement/readiness.hpp"

#include <algorithm>
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
// rim looks like the limb's. But light that comes from one side leaves the jig beside the dark limb in the shade, by as
// much as it leaves the limb itself (both keep only what comes from all round). Where the jig lies in full light right
// beside the darker limb, what was taken for that is its shadow's rim.
bool shadow_may_pass_for_a_side(const SlotResult& slot) {
  constexpr double kGrain = 1.2;  // by which the wood of either side may differ: in even light seen up to 1.1
  const double uneven = std::max(slot.sides_light, 1.0 / slot.sides_light);
  const double shade = slot.sides_light > 1.0 ? slot.jig_light : 1.0 / slot.jig_light;
  return uneven > kGrain * std::max(shade, 1.0);
}

}  // namespace

SlotResult of_both_looks(SlotResult alone, SlotResult on_jig) {
  if (on_jig.state != SlotState::found || !on_jig.numbers || alone.state == SlotState::mismatch ||
      shadow_may_pass_for_a_side(on_jig))
    return alone;
  if (alone.state == SlotState::found && alone.numbers) {
    const SlotNumbers first = *alone.numbers;
    widen_by_disagreement(*alone.numbers, *on_jig.numbers);
    widen_by_disagreement(*on_jig.numbers, first);
  }
  // A plate's edges and its own side are measured more closely with all that may lie beside them; and its face, lit
  // alike up to both its edges, tells nothing of its shadow.
  return is_ready(on_jig) && !is_plate(on_jig) ? on_jig : alone;
}

}  // namespace jigtrue
