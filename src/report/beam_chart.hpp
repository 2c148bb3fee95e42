// What burned loads say of the beam, one after another. Private to this layer.
#pragma once
#include "jigtrue/history/burn_record.hpp"

#include <string>
#include <vector>

namespace jigtrue::page {

// A section with a chart each of the shift along X and Y and of the turn, with half-widths, over the loads that tell
// them, and what all of them together say. Empty with fewer than two such loads.
[[nodiscard]] std::string beam_over_loads(const std::vector<BurnRecord>& loads);
[[nodiscard]] std::string beam_chart_style();

}  // namespace jigtrue::page
