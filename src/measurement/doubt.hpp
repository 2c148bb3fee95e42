// Taking back what was said of a slot.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <string>

namespace jigtrue {

// The slot is doubtful for this reason alone, and its numbers count no more.
void doubt(SlotResult& slot, const std::string& reason, const std::string& remedy);

// "138.4 mm".
[[nodiscard]] std::string millimetres_text(double mm, int decimals);

}  // namespace jigtrue
