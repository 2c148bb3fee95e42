#include "cli/beam_option.hpp"

#include "jigtrue/base/read_file.hpp"
#include "jigtrue/report/beam_files.hpp"

namespace jigtrue::cli {

void add_beam_option(CLI::App& command, std::vector<std::string>& files) {
  command
      .add_option("--apply-beam", files,
                  "inspection.json of a burned load, repeated for several: take off what camera and beam disagree by")
      ->expected(1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
}

std::optional<BeamOffset> beam_of(const std::vector<std::string>& files) {
  if (files.empty()) return std::nullopt;
  std::vector<NamedText> inspections;
  inspections.reserve(files.size());
  for (const std::string& file : files) inspections.push_back({read_text_file(file), file});
  return read_beam_offset(inspections);
}

std::string beam_source(const std::vector<std::string>& files) { return files.empty() ? std::string() : files.front(); }

}  // namespace jigtrue::cli
