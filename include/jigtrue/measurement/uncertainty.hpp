// The uncertainty of a measured place: every named share by the law of propagation (JCGM 100:2008, 5.1.2), all standard
// (1 sigma).
#pragma once
#include "jigtrue/detection/outline_fit.hpp"
#include "jigtrue/measurement/slot_result.hpp"

namespace jigtrue {

struct UncertaintyBudget {
  std::vector<BudgetShare> shares;
  BudgetShare total;
  double diameter_mm = 0.0;
};

// `between_readings`: how far off other edges may put the blank that explain the picture nearly as well.
// `lens_error_px`: distance that the lens model misses the lens by, typically; taken as one shift of the whole blank.
[[nodiscard]] UncertaintyBudget make_budget(const Camera& camera, const Slot& slot, const OutlineFit& fit,
                                            const BlankPlace& under_curved_shade,
                                            const std::optional<BudgetShare>& between_readings, bool both_ends_seen,
                                            double lens_error_px);

}  // namespace jigtrue
