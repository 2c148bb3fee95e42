// Where on the whole bed blanks may lie: edges that run along a declared outline, at any place and turned any way, in a
// view from above at the height of that outline. Proposals only, to some millimetres and degrees, for the decision to
// judge.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/image/photo.hpp"

#include <vector>

namespace jigtrue {

struct ProposedPlace {
  BlankPlace place;      // its girth is what it seems to have beside the declared one
  double support = 0.0;  // how well the outline is seen, as Candidate::whole_outline tells it: to order by
};

struct ProposedPlaces {
  std::vector<ProposedPlace> declared;     // most support first; no two alike
  std::vector<ProposedPlace> other_sizes;  // of other girths, as well
};

[[nodiscard]] ProposedPlaces propose_places(const Photo& photo, const Camera& camera, const Blank& blank,
                                            const Seat& seat, int threads);

}  // namespace jigtrue
