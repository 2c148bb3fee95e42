// The option that tells which side of the bed lies at the top of the photo.
#pragma once
#include "jigtrue/calibration/match_marks.hpp"

#include <optional>
#include <string>

#include <CLI/CLI.hpp>

namespace jigtrue::cli {

void add_photo_top(CLI::App& command, std::string& value, const std::string& help);

// Nothing when it was not given. Throws InputError on any other word.
[[nodiscard]] std::optional<PhotoTop> photo_top(const std::string& value);

}  // namespace jigtrue::cli
