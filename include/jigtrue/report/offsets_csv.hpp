// offsets.csv: RFC 4180, one row for each slot, units in the column names, empty cells for what was not measured.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <string>

namespace jigtrue {

// UTF-8, lines end with CR LF. Columns: slot, state, offset_x_mm, offset_y_mm, along_mm, across_mm, rotation_deg,
// u95_along_mm, u95_across_mm, u95_rotation_deg, centre_x_mm, centre_y_mm, axis_deg, diameter_mm, usable_band_mm,
// design_fits (yes, no), reasons, machine_correction_x_mm, machine_correction_y_mm, ready (yes, no).
// Throws std::logic_error when a number is not finite.
[[nodiscard]] std::string offsets_csv(const CheckResult& result);

}  // namespace jigtrue
