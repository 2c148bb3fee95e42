// The result as the terminal shows it.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <string>

namespace jigtrue {

// Aligned columns (slot, state, move along, move across, turn, +/- 95 % of the three, design), a footer that says what
// the signs mean, the headline, and one line for each slot that needs a person. Printable ASCII and line ends only:
// other characters show as '?'.
[[nodiscard]] std::string result_table(const CheckResult& result);

}  // namespace jigtrue
