#include "cli/guard_inputs.hpp"

#include "cli/machine_option.hpp"
#include "jigtrue/base/error.hpp"

namespace jigtrue::cli {
namespace {

bool same_file(const std::filesystem::path& a, const std::filesystem::path& b) {
  if (a.empty() || b.empty()) return false;
  std::error_code none;
  return std::filesystem::equivalent(a, b, none) ||
         std::filesystem::weakly_canonical(a, none) == std::filesystem::weakly_canonical(b, none);
}

}  // namespace

void refuse_over_inputs(const Paths& inputs, const Paths& outputs) {
  for (const std::filesystem::path& output : outputs)
    for (const std::filesystem::path& input : inputs)
      if (same_file(output, input))
        throw input_error(output.string(),
                          "this command reads it" + (input == output ? std::string() : " as " + input.string()) +
                              " and would write over it",
                          "name another file or folder for what is written");
}

void refuse_twice(const Paths& outputs) {
  for (std::size_t i = 0; i < outputs.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      if (same_file(outputs[i], outputs[j]))
        throw input_error(outputs[i].string(), "two results would be written to this one file",
                          "name two different files");
}

Paths paths_named_by(const Fixture& fixture, const std::string& fixture_file) {
  return {machine_file("", fixture, fixture_file), fixture.empty_photo};
}

Paths paths_of(const std::vector<std::string>& names) { return {names.begin(), names.end()}; }

Paths in_folder(const std::filesystem::path& folder, const std::vector<std::string>& names) {
  Paths paths;
  for (const std::string& name : names) paths.push_back(folder / name);
  return paths;
}

}  // namespace jigtrue::cli
