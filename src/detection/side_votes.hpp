// The solution that most of the outline speaks for: from every block's clearest edge, and from what the sides' edges
// can agree on.
#pragma once
#include "detection/place_solution.hpp"

namespace jigtrue {

// `blocks` are left with the edges that it took.
[[nodiscard]] Solution solve_robustly(std::vector<EdgeBlock>& blocks, const PlacePriors& priors);

}  // namespace jigtrue
