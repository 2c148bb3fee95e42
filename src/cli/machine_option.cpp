#include "cli/machine_option.hpp"

#include "jigtrue/base/read_file.hpp"

#include <filesystem>

namespace jigtrue::cli {

std::string machine_file(const std::string& option, const Fixture& fixture, const std::string& fixture_file) {
  if (!option.empty() || fixture.machine_file.empty()) return option;
  return (std::filesystem::path(fixture_file).parent_path() / fixture.machine_file).string();
}

std::optional<Machine> machine_of(const std::string& file) {
  if (file.empty()) return std::nullopt;
  return read_machine(read_text_file(file), file);
}

}  // namespace jigtrue::cli
