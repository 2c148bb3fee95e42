// The commands: each adds its options and help to the program and, when asked for, runs.
#pragma once
#include <functional>
#include <ostream>
#include <string>

#include <CLI/CLI.hpp>

namespace jigtrue::cli {

struct Streams {
  std::ostream& out;
  std::ostream& err;
};

// What a command does once the arguments are read; returns the exit status.
using Action = std::function<int(Streams)>;

// Each adds a subcommand to `program`; when that is chosen, `action` is set.
void add_lens_command(CLI::App& program, Action& action);
void add_pose_command(CLI::App& program, Action& action);
void add_check_command(CLI::App& program, Action& action);
void add_place_command(CLI::App& program, Action& action);
void add_inspect_command(CLI::App& program, Action& action);
void add_where_command(CLI::App& program, Action& action);
void add_target_command(CLI::App& program, Action& action);
void add_trend_command(CLI::App& program, Action& action);
void add_bench_command(CLI::App& program, Action& action);
void add_settle_command(CLI::App& program, Action& action);
void add_scout_command(CLI::App& program, Action& action);

// "jigtrue 0.1.0"
[[nodiscard]] std::string software_name();
[[nodiscard]] std::string version();
// Now, ISO 8601 in UTC.
[[nodiscard]] std::string time_now();

}  // namespace jigtrue::cli
