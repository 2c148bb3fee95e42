#include "cli/run.hpp"

#include "cli/commands.hpp"
#include "jigtrue/base/edit_distance.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <chrono>
#include <ctime>
#include <exception>
#include <new>
#include <optional>

#include <opencv2/core.hpp>

namespace jigtrue::cli {
namespace {

constexpr const char* kDescription =
    "jigtrue: where each engraving blank really lies, from one photo of the loaded fixture.\n"
    "\n"
    "A raised, round blank seen at an angle stands elsewhere than it seems. jigtrue measures it through the "
    "calibrated\n"
    "camera and says by how much every slot's design must move, with an honest uncertainty. It refuses rather than "
    "guesses.\n"
    "\n"
    "The round, in three commands:\n"
    "  1. once per camera:       jigtrue lens board-*.jpg --board 10x7x25 -o lens.json\n"
    "  2. when it has moved:     jigtrue pose burned.jpg --lens lens.json --marks marks.json --witness 12,12 "
    "--witness 388,12 -o camera.json\n"
    "     or, with a board:      jigtrue pose flat.jpg --lens lens.json --board 10x7x25 --board-at 80,110,0 "
    "--board-height 3\n"
    "                            --witness 12,12 --witness 388,12 -o camera.json\n"
    "     (--witness: marks stuck to the bed for good; only by them is it noticed that the camera has moved since)\n"
    "     and once per jig:      jigtrue scout load.jpg --camera camera.json --like fixtures/templates/... -o "
    "fixture.json\n"
    "  3. for every load:        jigtrue check load.jpg --camera camera.json --fixture fixture.json -o load-1\n"
    "Open load-1/report.html, mend what it names, engrave load-1/layout.svg.\n";

constexpr const char* kFooter =
    "Exit status: 0 done, every slot ready; 1 done, some slot needs a person; 2 refused, the reason on stderr, no file "
    "changed.\n"
    "Lengths are millimetres, angles degrees counter-clockwise seen from above; bed X runs right, Y away from you.\n"
    "\n"
    "Laser light blinds and burns: keep the lid and its interlocks closed, extract the fumes, stay beside the machine "
    "with an\n"
    "extinguisher, engrave only materials you know. The maker's manual, local codes and licensed practice come "
    "first.\n";

std::string one_line(std::string text) {
  for (char& c : text)
    if (c == '\n' || c == '\r') c = ' ';
  while (!text.empty() && text.back() == ' ') text.pop_back();
  return terminal_text(text);
}

// OpenCV has an exception of its own for it.
bool tells_of_memory(const std::exception& error) {
  const auto* of_opencv = dynamic_cast<const cv::Exception*>(&error);
  return dynamic_cast<const std::bad_alloc*>(&error) != nullptr ||
         (of_opencv != nullptr && of_opencv->code == cv::Error::StsNoMem);
}

std::string listed(const std::vector<std::string>& names, const std::string& prefix) {
  std::string list;
  for (const std::string& name : names) list.append(list.empty() ? "" : ", ").append(prefix).append(name);
  return list;
}

std::string meant(const std::string& unknown, const std::vector<std::string>& known, const std::string& prefix,
                  const std::string& owner) {
  const std::optional<std::string> near = nearest_name(unknown, known);
  return near ? "did you mean " + prefix + *near + "?" : owner + " " + listed(known, prefix);
}

// Without the dashes; those that help and version have are for people, not for mistakes.
std::vector<std::string> option_names(const CLI::App& command) {
  std::vector<std::string> names;
  for (const CLI::Option* option : command.get_options())
    for (const std::string& name : option->get_lnames()) names.push_back(name);
  return names;
}

// What an argument names as an option, without its dashes: after two dashes any name, after one (a slip) only what is
// near to one, since "-o" may have its value glued to it and numbers may be negative.
std::optional<std::string> option_name(const std::string& argument, const std::vector<std::string>& options) {
  if (argument.starts_with("--")) return argument.substr(2, argument.find('=') - 2);
  if (argument.size() < 4 || argument[0] != '-') return std::nullopt;
  const std::string name = argument.substr(1, argument.find('=') - 1);
  return nearest_name(name, options) ? std::optional(name) : std::nullopt;
}

// A command or an option that does not exist, with the one that was probably meant; nothing when all names are known.
std::optional<std::string> unknown_name(const CLI::App& program, const std::vector<std::string>& arguments) {
  if (arguments.empty()) return std::nullopt;
  const CLI::App* scope = &program;
  if (!arguments.front().starts_with("-")) {
    std::vector<std::string> commands;
    for (const CLI::App* each : program.get_subcommands([](const CLI::App*) { return true; })) {
      commands.push_back(each->get_name());
      if (each->get_name() == arguments.front()) scope = each;
    }
    if (scope == &program)
      return "there is no command \"" + arguments.front() + "\"; " +
             meant(arguments.front(), commands, "", "the commands are");
  }
  const std::vector<std::string> options = option_names(*scope);
  for (const std::string& argument : arguments) {
    if (argument == "--") break;
    const std::optional<std::string> given = option_name(argument, options);
    if (!given) continue;
    const std::string& name = *given;
    if (argument.starts_with("--") && std::find(options.begin(), options.end(), name) != options.end()) continue;
    const std::string owner = scope == &program ? "jigtrue" : scope->get_name();
    return std::string(owner).append(" has no option ").append(argument.substr(0, argument.find('='))).append("; ") +
           meant(name, options, "--", "it has");
  }
  return std::nullopt;
}

// What else the arguments lack or hold too much of.
std::string slip(const CLI::App& program, const std::vector<std::string>& arguments, const CLI::ParseError& error) {
  const CLI::App* command = program.get_subcommands().empty() ? nullptr : program.get_subcommands().front();
  const std::string see = "; see jigtrue " + (command == nullptr ? "" : command->get_name() + " ") + "--help";
  const std::string what = error.what();
  if (dynamic_cast<const CLI::ConversionError*>(&error) != nullptr) {
    // "Could not convert: --height = 10,5"
    const std::size_t value = what.rfind(" = ");
    const std::size_t name = what.find("--");
    if (name != std::string::npos && value != std::string::npos && name < value)
      return what.substr(name, value - name) + ": \"" + what.substr(value + 3) +
             "\" is not a number; write digits with a decimal point, without unit, like 12.5";
  }
  if (dynamic_cast<const CLI::ExtrasError*>(&error) != nullptr && command != nullptr) {
    const std::vector<std::string> left = command->remaining();
    const auto file =
        std::find_if(left.begin(), left.end(), [](const std::string& each) { return !each.starts_with("-"); });
    if (file != left.end())
      return command->get_name() + ": \"" + *file +
             "\" has no place; every file but the photo follows its option, and names with spaces stand in quotes" +
             see;
  }
  if (arguments.empty()) return "no command is given" + see;
  return (command == nullptr ? "" : command->get_name() + ": ") + what + see;
}

}  // namespace

std::string version() { return JIGTRUE_VERSION; }
std::string software_name() { return "jigtrue " + version(); }

std::string time_now() {
  const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
  std::tm utc{};
  gmtime_r(&now, &utc);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &utc);
  return text;
}

int run(const std::vector<std::string>& arguments, std::ostream& out, std::ostream& err) {
  CLI::App program{kDescription, "jigtrue"};
  program.footer(kFooter);
  program.set_version_flag("--version", software_name());
  program.require_subcommand(1);
  Action action;
  add_lens_command(program, action);
  add_pose_command(program, action);
  add_check_command(program, action);
  add_bench_command(program, action);
  add_place_command(program, action);
  add_inspect_command(program, action);
  add_where_command(program, action);
  add_target_command(program, action);
  add_trend_command(program, action);
  add_settle_command(program, action);
  add_scout_command(program, action);
  try {
    // CLI11 takes the arguments from the back
    program.parse(std::vector<std::string>(arguments.rbegin(), arguments.rend()));
    return action({out, err});
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) {
      program.exit(error, out, err);
      return 0;
    }
    const std::optional<std::string> unknown = unknown_name(program, arguments);
    err << "jigtrue: " << one_line(unknown ? *unknown : slip(program, arguments, error)) << "\n";
  } catch (const InputError& error) {
    err << "jigtrue: " << one_line(error.what()) << "\n";
  } catch (const std::exception& error) {
    err << "jigtrue: "
        << (tells_of_memory(error) ? "not enough memory for this; close other programs or use a smaller photo"
                                   : "a fault of the program, please report it: " + one_line(error.what()))
        << "\n";
  }
  return 2;
}

}  // namespace jigtrue::cli
