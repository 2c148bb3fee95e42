// A blank's length as its own ends tell it.
#pragma once
#include "jigtrue/detection/outline_fit.hpp"
#include "jigtrue/measurement/slot_result.hpp"

namespace jigtrue {

// `prior_sigma_mm`: that the fit was given for the length, about fit.length_centre_mm. Nothing for a disc.
[[nodiscard]] std::optional<MeasuredLength> measured_length(const OutlineFit& fit, const BlankShape& declared,
                                                            double prior_sigma_mm, bool start_seen, bool end_seen);

}  // namespace jigtrue
