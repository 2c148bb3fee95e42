// --apply-beam: inspections of burned loads whose offset between camera and beam is to be taken off.
#pragma once
#include "cli/commands.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue::cli {

void add_beam_option(CLI::App& command, std::vector<std::string>& files);

// Nothing when none is named.
[[nodiscard]] std::optional<BeamOffset> beam_of(const std::vector<std::string>& files);
[[nodiscard]] std::string beam_source(const std::vector<std::string>& files);

}  // namespace jigtrue::cli
