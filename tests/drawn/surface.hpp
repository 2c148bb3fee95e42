// Real surfaces for drawn beds: small repeating pictures of wood, leather and slate as Debian's package gimp-data
// carries them (GIMP's patterns, GPL-3+; tests that ask for one are skipped where the package is absent).
#pragma once
#include <filesystem>
#include <string>

#include "drawn/drawn_bed.hpp"

namespace jigtrue::test {

// Where the package keeps them.
[[nodiscard]] std::filesystem::path surfaces_folder();

// Reads one by its name there, e.g. "Wood/wood5". None without the package. Throws std::runtime_error for a file that
// is no such pattern.
[[nodiscard]] std::shared_ptr<const Surface> read_surface(const std::string& name, double px_per_mm);

// A pattern's own bytes (GIMP's developer documentation, "GIMP Pattern file format": six big-endian words, a name, the
// pixels).
[[nodiscard]] Surface surface_of_pattern(const std::string& bytes, double px_per_mm);

}  // namespace jigtrue::test
