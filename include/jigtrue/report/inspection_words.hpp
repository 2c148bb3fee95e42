// The words that an inspection's outputs share.
#pragma once
#include "jigtrue/inspection/inspection_result.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// "4 of 5 blanks carry their mark. These need you: 2."
[[nodiscard]] std::string inspection_headline(const InspectionResult& result);

// Camera against beam in one sentence; empty when no mark tells it.
[[nodiscard]] std::string beam_sentence(const InspectionResult& result);

// "Another pass would mend: 4, 7." Empty when none would.
[[nodiscard]] std::string again_sentence(const InspectionResult& result);

// Slots in order of trouble: what needs a person first, then those farthest off their blank's centreline.
[[nodiscard]] std::vector<std::size_t> by_trouble(const InspectionResult& result);

// Aligned columns for the terminal, and what needs a person.
[[nodiscard]] std::string inspection_table(const InspectionResult& result);

}  // namespace jigtrue
