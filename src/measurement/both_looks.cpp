#include "jigtrue/measurement/both_looks.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/detection/readings.hpp"
#include "jigtrue/measurement/readiness.hpp"

#include <cmath>
#include <optional>

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

// What one look calls empty, no outline of a blank to be seen, the other must show in plain view.
bool contradicts(const SlotResult& alone, const SlotResult& on_jig) {
  return alone.state == SlotState::empty && on_jig.log_ratio < kPlainLogRatio;
}

bool is_to_be_trusted(const MeasuredSlot& on_jig) {
  return on_jig.result.state == SlotState::found && tells_of_load(on_jig.result) &&
         !shadow_may_pass_for_a_side(on_jig.limb_light) && !blank_may_pass_for_its_jig(on_jig.limb_light);
}

}  // namespace

MeasuredSlot of_both_looks(MeasuredSlot alone, MeasuredSlot on_jig) {
  if (!is_to_be_trusted(on_jig) || alone.result.state == SlotState::mismatch ||
      contradicts(alone.result, on_jig.result))
    return alone;
  std::optional<SlotNumbers>& first = alone.result.numbers;
  SlotNumbers& second = *on_jig.result.numbers;
  if (alone.result.state == SlotState::found && first) {
    const SlotNumbers before = *first;
    widen_by_disagreement(*first, second);
    widen_by_disagreement(second, before);
  }
  // A plate's edges and its own side are measured more closely with all that may lie beside them; and its face, lit
  // alike up to both its edges, tells nothing of its shadow.
  return is_ready(on_jig.result) && !is_plate(on_jig.result) ? on_jig : alone;
}

}  // namespace jigtrue
