// placement.csv and placement.json: what was placed where, what was left out and why, and how long it will run.
#pragma once
#include "jigtrue/layout/placement.hpp"
#include "jigtrue/layout/run_time.hpp"
#include "jigtrue/measurement/slot_result.hpp"
#include "jigtrue/report/report_options.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// RFC 4180, lines end with CR LF. Columns: slot, placed (yes, no), centre_x_mm, centre_y_mm, axis_deg, offset_x_mm,
// offset_y_mm, along_mm, across_mm, rotation_deg, reason. Places as the layout has them, to 0.001 mm.
[[nodiscard]] std::string placement_csv(const CheckResult& result, const Placement& placement);

// Schema jigtrue.placement/1: machine_origin, proof, slots (as the columns above), left_out, passes in their order,
// run_time (seconds in all and for each pass that declares its timing), notes.
[[nodiscard]] std::string placement_json(const CheckResult& result, const Placement& placement, const RunTime& run_time,
                                         const std::vector<std::string>& notes, const ReportOptions& options);

}  // namespace jigtrue
