// Whether a blank that was measured is partly covered.
#pragma once
#include "jigtrue/detection/outline_fit.hpp"

namespace jigtrue {

// Whether something seems to lie across a long blank: on both its sides there are stretches, away from the ends, where
// the edge is lost and the surface just inside is unlike the blank's elsewhere. A clip hides one side, a faint outline
// is lost where the surface goes on, a ring or a knot has edges of its own.
[[nodiscard]] bool something_across(const OutlineFit& fit);

}  // namespace jigtrue
