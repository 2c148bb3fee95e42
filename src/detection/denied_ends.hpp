// Ends of a fitted outline that its sides speak against.
#pragma once
#include "jigtrue/detection/outline_fit.hpp"

#include <array>

namespace jigtrue {

// Start, end: both sides seem to run on beyond it, as a groove's edges do, or to stop short of it, as where a pocket's
// wall was taken for the end. None of a disc.
[[nodiscard]] std::array<bool, 2> denied_ends(const View& view, const OutlineFit& fit);

}  // namespace jigtrue
