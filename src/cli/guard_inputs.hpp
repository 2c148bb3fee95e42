// No command writes over what it reads.
#pragma once
#include "jigtrue/fixture/fixture.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace jigtrue::cli {

using Paths = std::vector<std::filesystem::path>;

// Throws InputError when one of the outputs is one of the inputs, by whatever name, link or way to it. Empty names, and
// files that are not there, are no file.
void refuse_over_inputs(const Paths& inputs, const Paths& outputs);

// The same file twice among the outputs: the second would destroy the first.
void refuse_twice(const Paths& outputs);

// The files that a fixture file names: its machine and its photo of the empty jig.
[[nodiscard]] Paths paths_named_by(const Fixture& fixture, const std::string& fixture_file);

[[nodiscard]] Paths paths_of(const std::vector<std::string>& names);
[[nodiscard]] Paths in_folder(const std::filesystem::path& folder, const std::vector<std::string>& names);

}  // namespace jigtrue::cli
