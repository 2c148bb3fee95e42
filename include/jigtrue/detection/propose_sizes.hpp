// Which sizes the blanks on a bed may have, where the file leaves some to be measured: outlines of any size, in a view
// from above. Proposals only, to about a millimetre, for the decision to judge.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/detection/propose_places.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/photo.hpp"

#include <vector>

namespace jigtrue {

struct SizesWanted {
  bool girth = false;   // diameter, or a plate's size across
  bool length = false;  // never of a disc
};

struct ProposedSize {
  double girth_mm = 0.0;
  double length_mm = 0.0;
  double support = 0.0;               // of all outlines of this size that do not overlap: to order by
  std::vector<ProposedPlace> places;  // of those, most support first; girths beside this one
};

// Most support first, no two alike. `blank`: what is not wanted is as declared. Where both are, the longer one is the
// length. No turned blank.
[[nodiscard]] std::vector<ProposedSize> propose_sizes(const Photo& photo, const Camera& camera, const Blank& blank,
                                                      const Seat& seat, const SizesWanted& wanted, int threads);

}  // namespace jigtrue
