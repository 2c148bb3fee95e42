// What a slot comes to that was measured with and without its bare jig.
#pragma once
#include "jigtrue/measurement/measured_slot.hpp"

namespace jigtrue {

// One slot measured twice: by the load's photo alone, and by what it shows beyond the bare jig. Where the two
// disagree the half-widths say so; what the first leaves open the second may tell.
[[nodiscard]] MeasuredSlot of_both_looks(MeasuredSlot alone, MeasuredSlot on_jig);

}  // namespace jigtrue
