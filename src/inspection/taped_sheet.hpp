// The tape that a proof is burned on: what is seen of a blank beside it tells nothing of the tape's own light.
#pragma once
#include "jigtrue/inspection/unrolled.hpp"

namespace jigtrue {

// Leaves seen what is as light as where the frame is expected, `half_mm` to either side of (0, 0), row by row: a round
// blank is shaded across. The frame's own thin lines are passed over; where tape and blank look alike both are left.
[[nodiscard]] Unrolled within_tape(const Unrolled& given, const Vector2d& half_mm);

}  // namespace jigtrue
