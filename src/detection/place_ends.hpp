// Where a blank's ends seem to lie once its sides are known.
#pragma once
#include "jigtrue/detection/coarse_search.hpp"

namespace jigtrue {

// The candidate moved to the pair of edges whose distance fits the declared length best, with other pairs that stand
// out as well; as it is where too little of the ends is in the picture.
[[nodiscard]] Candidate with_ends(const SearchPicture& picture, const Camera& camera, const Blank& blank,
                                  const Seat& seat, const SearchRange& range, Candidate candidate);

}  // namespace jigtrue
