// report.json, schema jigtrue.report/1.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"
#include "jigtrue/report/report_options.hpp"

#include <string>

namespace jigtrue {

// Every contract field is there for every slot; what was not measured is null. Lengths to 1e-4 mm, angles to 1e-4 deg.
// Beside the contract's fields: software, software_version, created, photo, fixture_name, all_ready, headline, witness,
// bed (the machine that layouts are for, as machine.json has it), cautions, notes; per slot remedy (what to do, where
// it is not the usual), nominal_centre_mm, nominal_axis_deg, design_mm, design_note (among the reasons, too), room (how
// far ink may reach about the design's centre), budget (standard uncertainties); declared (the fixture) and artwork
// (what is engraved), by which the load can be inspected after burning. Throws std::logic_error when a number is not
// finite.
[[nodiscard]] std::string report_json(const CheckResult& result, const ReportOptions& options);

}  // namespace jigtrue
