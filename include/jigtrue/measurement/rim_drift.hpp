// How far light that changes round a disc may shift it: a rim that is rounded, chamfered or shadowed shows its edge
// further out here and further in there, and a fit takes what changes once round it for a shift.
#pragma once
#include "jigtrue/detection/outline_fit.hpp"

#include <optional>

namespace jigtrue {

// Variance of a disc's place either way, mm^2, read off what its rim shows that no shift and no size explains: where
// its edge goes in and out twice or three times round. The fit's own counts as half a showing beside these four.
// Nothing where too little of the rim is seen.
[[nodiscard]] std::optional<double> rim_place_variance(const OutlineFit& fit);

}  // namespace jigtrue
