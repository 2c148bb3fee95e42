// The scale of the whole map, by what a load shows: a print of another scale than declared leaves every residual small,
// but makes lengths, girths and the blanks' distances come out wrong by one and the same share.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// A sentence that names the scale, when two kinds of size or more speak for the same one and none against it; empty
// otherwise. One kind alone may as well be a wrong figure in the file.
[[nodiscard]] std::string scale_of_load(const Fixture& fixture, const std::vector<SlotResult>& slots,
                                        double camera_height_mm);

}  // namespace jigtrue
