// The program's commands, run inside the test, and what they leave.
#pragma once
#include "cli/run.hpp"
#include "jigtrue/base/read_file.hpp"

#include <filesystem>
#include <iterator>
#include <sstream>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

namespace jigtrue::test {

struct CommandResult {
  int status = -1;
  std::string out;
  std::string err;
};

inline CommandResult command(const std::vector<std::string>& arguments) {
  std::ostringstream out;
  std::ostringstream err;
  const int status = cli::run(arguments, out, err);
  return {status, out.str(), err.str()};
}

inline nlohmann::json json_of(const std::filesystem::path& file) { return nlohmann::json::parse(read_text_file(file)); }

inline std::size_t files_in(const std::filesystem::path& folder) {
  return static_cast<std::size_t>(std::distance(std::filesystem::directory_iterator(folder), {}));
}

}  // namespace jigtrue::test
