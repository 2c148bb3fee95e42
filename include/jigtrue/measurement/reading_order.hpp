// In which order a person reads slots: from the front to the back, in a row from left to right.
#pragma once
#include "jigtrue/fixture/fixture.hpp"

#include <vector>

namespace jigtrue {

// Indices in reading order. Rows lie as the jig does: turned by less than 45 degrees as most of the blanks' axes are,
// lengthways or crossways. Slots are of one row as long as they overlap its first by half.
[[nodiscard]] std::vector<std::size_t> reading_order(const std::vector<Slot>& slots);

}  // namespace jigtrue
