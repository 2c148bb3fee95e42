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

std::string strayed_files(const std::string& read, const std::string& written, const Fixture& fixture) {
  const auto folder = [](const std::string& file) {
    return std::filesystem::absolute(file).lexically_normal().parent_path();
  };
  if (folder(read) == folder(written)) return {};
  if (fixture.machine_file.empty() && fixture.empty_photo.empty()) return {};
  return "note: " + read + " names files by their way from its own folder, and " + written +
         " lies in another: correct \"machine\" and \"empty_photo\" there\n";
}

}  // namespace jigtrue::cli
