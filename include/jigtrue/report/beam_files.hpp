// The beam's offset in files: read from inspections, kept in the reports of loads that it was taken off.
#pragma once
#include "jigtrue/json/json_file.hpp"
#include "jigtrue/measurement/slot_result.hpp"
#include "jigtrue/report/read_laid_load.hpp"

#include <vector>

namespace jigtrue {

// From inspection.json of one load or more (apply_beam.hpp: combined). Throws InputError: no inspection, no beam in it,
// loads laid out with the machine's errors corrected and others without.
[[nodiscard]] BeamOffset read_beam_offset(const std::vector<NamedText>& inspections);

// What an offset's stretch says; and, of the same figures, the half-widths alone.
[[nodiscard]] nlohmann::ordered_json beam_stretch_json(const BeamStretch& stretch);
[[nodiscard]] nlohmann::ordered_json beam_stretch_u_json(const BeamStretch& stretch);

// report.json's and placement.json's "beam_applied".
[[nodiscard]] nlohmann::ordered_json beam_offset_json(const std::optional<BeamOffset>& offset);
[[nodiscard]] std::optional<BeamOffset> read_applied_beam(const JsonField& root);

}  // namespace jigtrue
