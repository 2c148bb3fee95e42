// How far light that changes along a blank may turn it: each limb's edge drifts then from one end to the other, and a
// fit takes half the difference of two drifts for a turn.
#pragma once
#include "jigtrue/detection/outline_fit.hpp"

namespace jigtrue {

// Variance of the fitted turn, rad^2. The fit's own says what limbs may drift by; how much these do they show in all
// that no turn explains: where both drift alike, as a taper would make them that the profile does not have, and where
// either bends once or twice. The fit's own counts as half a showing beside these five, and the few that they are is
// allowed for.
[[nodiscard]] double turn_variance(const OutlineFit& fit);

}  // namespace jigtrue
