// `target --jig`: a jig's own drawing, and its fixture file completed.
#pragma once
#include "cli/commands.hpp"
#include "jigtrue/layout/machine.hpp"

#include <optional>
#include <string>

namespace jigtrue::cli {

struct JigArguments {
  std::string fixture;
  std::optional<int> rows;
  std::optional<double> pitch_mm;
  std::optional<int> columns;
  std::optional<double> column_pitch_mm;
  double play_mm = 0.3;
  double kerf_mm = 0.0;
};

// `bed`: from --bed or --machine (the file `machine_named`); without one the fixture's own machine. Beside the SVG
// `output` a JSON file of the same name is written where the fixture file lacks slots or marks: it is that file and the
// missing ones.
int write_jig(const JigArguments& arguments, const std::optional<Machine>& bed, const std::string& machine_named,
              const std::string& output, Streams streams);

}  // namespace jigtrue::cli
