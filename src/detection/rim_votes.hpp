// Places of a disc that many stretches of its rim agree on.
#pragma once
#include <vector>

#include "detection/place_solution.hpp"

namespace jigtrue {

// A shift of the disc from where it was laid, and its girth beside what was laid.
struct RimVote {
  Vector2d shift_mm = Vector2d::Zero();  // across, along
  double girth_mm = 0.0;
  double support = 0.0;

  [[nodiscard]] double predicted_px(const EdgeBlock& block) const;
  // How near one of the block's edges lies to where this one would have it: 1 there, falling to 0.
  [[nodiscard]] double nearness(const EdgeBlock& block) const;
};

// The few most supported, apart from each other, best first: every stretch votes for all places that its edge may have,
// and the girth for what its prior makes likely.
[[nodiscard]] std::vector<RimVote> rim_votes(const std::vector<EdgeBlock>& blocks, const PlacePriors& priors);

}  // namespace jigtrue
