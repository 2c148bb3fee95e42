// Correcting measured places by what burned marks said about the machine.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <string>

namespace jigtrue {

// Turns every slot's numbers from where the camera saw the blank into what the machine must be told so that its beam
// lands there: centre, offset and angle are corrected. The half-widths hold the correction's uncertainty already: a
// camera placed by the same marks, machine's figures fitted along, states more than what is left after correcting.
// Where the place along the axis was not measured it stays nominal. The fixture's own shift and turn stay as seen, and
// designs keep their size and shape. Throws std::logic_error when `machine` is absent or already applied.
void apply_machine(CheckResult& result);

// Whole sentences: that it was applied, with which figures, how much it did at most, how surely, or that there was
// nothing to correct. When it was not applied, what that costs, if the figures are beyond their uncertainty; else
// empty.
[[nodiscard]] std::string machine_note(const CheckResult& result);

// "scale along X less Y +0.300 % +/- 0.052 %, angle from X to Y less 90 deg +0.100 deg +/- 0.031 deg"
[[nodiscard]] std::string figures_text(const MachineFigures& figures);

}  // namespace jigtrue
