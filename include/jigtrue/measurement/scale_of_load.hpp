// The scale of the whole map, by what a load shows: a print of another scale than declared leaves every residual small,
// but makes lengths, girths and the blanks' distances come out wrong by one and the same share.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// A sentence that names the scale; empty where the load does not tell. Lengths, widths and distances are weighed by
// what the file's tolerances, the measurement and the blanks' scatter leave them: of loads that are as declared at most
// one in 1,000 is told so. Two kinds at least must speak for it and none against: one alone may as well be a wrong
// figure in the file (with one such, one load in 20).
[[nodiscard]] std::string scale_of_load(const Fixture& fixture, const std::vector<SlotResult>& slots,
                                        double camera_height_mm);

}  // namespace jigtrue
