// inspection.json, schema jigtrue.inspection/1.
#pragma once
#include "jigtrue/inspection/inspection_result.hpp"
#include "jigtrue/report/report_options.hpp"

#include <string>

namespace jigtrue {

// Every contract field is there for every slot; what was not measured is null. Lengths to 1e-4 mm, angles to 1e-4 deg.
// Beside the contract's fields, of the beam: about_mm, own_uncertainty (the marks alone), scatter_mm, slots; of a slot:
// blank_state, mark_centre_mm, mark_deg, placed_uncertainty (of from_placed_mm, lens, pose and heights whole),
// contrast_uncertainty, halo, score, chance, least_contrast, remedy. Throws std::logic_error when a number is not
// finite.
[[nodiscard]] std::string inspection_json(const InspectionResult& result, const ReportOptions& options);

}  // namespace jigtrue
