// Sizes of blanks with straight sides and ends: any two rows of edges, any two ends between them.
#pragma once
#include "jigtrue/detection/propose_sizes.hpp"

#include <vector>

namespace jigtrue {

// As propose_sizes; no disc.
[[nodiscard]] std::vector<ProposedSize> box_sizes(const Photo& photo, const Camera& camera, const Blank& blank,
                                                  const Seat& seat, const SizesWanted& wanted, int threads);

}  // namespace jigtrue
