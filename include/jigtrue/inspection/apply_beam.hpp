// Correcting measured places by what burned loads said about camera against beam.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// Whether a figure is more than chance: beyond its half-width at 99 %.
[[nodiscard]] bool is_sure(const std::optional<Figure>& figure);
[[nodiscard]] bool is_sure(const BeamStretch& stretch);  // some of it

// Turns every slot's numbers from where the camera has the blank into what the machine must be told so that its beam
// lands there; half-widths grow by the offset's own. Notes what was done. Throws InputError when it was applied before,
// and when it was read from loads laid out with the machine's own errors corrected and this one is not, or the other
// way round: then one fault would be corrected twice, or not at all. `source`: for messages.
void apply_beam(const BeamOffset& offset, const std::string& source, CheckResult& result);

// One offset from several loads' by the same camera, each weighted by its own half-widths; stated no surer than the
// loads agree. Throws std::logic_error for none.
[[nodiscard]] BeamOffset combined(const std::vector<BeamOffset>& loads);

// How many loads, in all, would make sure to `wanted_mm` what so many have as sure as `u_mm`; at least those there are.
[[nodiscard]] int loads_for(double u_mm, int loads, double wanted_mm);

// "along X +0.120 % (+/- 0.030), along Y ..., its axes' angle +0.012 deg (+/- 0.004)"; empty when nothing is told.
[[nodiscard]] std::string stretch_text(const BeamStretch& stretch);

// "+0.35 mm in X, -0.20 mm in Y (+/- 0.02 and 0.02 mm), turned by +0.010 deg (+/- 0.005)"
[[nodiscard]] std::string offset_text(const BeamOffset& offset);

}  // namespace jigtrue
