#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/bench/book.hpp"
#include "jigtrue/history/settle.hpp"
#include "jigtrue/history/trend.hpp"
#include "jigtrue/report/trend_pages.hpp"

#include <filesystem>

namespace jigtrue::cli {
namespace {

struct TrendArguments {
  std::string record;
  std::string output;
};
struct SettleArguments {
  std::string record;
  std::string fixture;
  std::string output;
};

constexpr const char* kTrendHelp =
    "Says what the record of many checks shows: how far the camera has drifted, how the fixture is put down, and how "
    "blanks "
    "lie in\n"
    "each slot, with means, spreads and limits. The record is kept by check --record FILE.\n"
    "\n"
    "Example: jigtrue trend --record loads.jsonl -o trend";

constexpr const char* kSettleHelp =
    "Writes a fixture file whose slots stand where loads have actually been found. A slot is moved only when at least "
    "five "
    "loads\n"
    "agree on it and the move is more than chance and more than a single load's own uncertainty. Comments of the file "
    "are "
    "not kept.\n"
    "\n"
    "Example: jigtrue settle --record loads.jsonl --fixture fixture.json -o fixture-settled.json";

CheckRecords records_of(const std::string& file, Streams streams) {
  CheckRecords records =
      read_records(is_book(file) ? book_records(file) : read_text_file(file, std::size_t{256} << 20));
  if (records.damaged > 0)
    streams.err << "jigtrue: " << file << ": " << records.damaged << " damaged lines were passed over\n";
  if (records.repeated > 0)
    streams.out << records.repeated << (records.repeated == 1 ? " record repeats" : " records repeat")
                << " a load that counts already: the same photo or the same load again\n";
  if (records.loads.empty())
    throw input_error(file, "it holds no load", "give the file that jigtrue check --record adds to, or a bench's book");
  return records;
}

int run_trend(const TrendArguments& arguments, Streams streams) {
  if (!arguments.output.empty()) refuse_over_inputs({arguments.record}, in_folder(arguments.output, {"trend.html"}));
  const std::vector<Trend> trends = trends_of(records_of(arguments.record, streams));
  if (!arguments.output.empty()) {
    prepare_folder(arguments.output);
    write_files({{std::filesystem::path(arguments.output) / "trend.html", trend_html(trends)}});
  }
  for (const Trend& trend : trends) streams.out << trend_text(trend);
  if (!arguments.output.empty())
    streams.out << "page: " << (std::filesystem::path(arguments.output) / "trend.html").string() << "\n";
  return 0;
}

int run_settle(const SettleArguments& arguments, Streams streams) {
  refuse_over_inputs({arguments.record, arguments.fixture}, {arguments.output});
  const std::string text = read_text_file(arguments.fixture);
  const Fixture fixture = read_fixture(text, arguments.fixture);
  refuse_over_inputs(paths_named_by(fixture, arguments.fixture), {arguments.output});
  const Settling settling = settle(records_of(arguments.record, streams), fixture);
  for (const std::string& line : settling.lines) streams.out << line << "\n";
  if (settling.moved == 0) {
    streams.out << "no slot is moved, so no file was written\n";
    return 0;
  }
  write_files({{arguments.output, move_slots(text, arguments.fixture, settling.moves)}});
  streams.out << "wrote " << arguments.output << ": " << settling.moved << " of " << fixture.slots.size()
              << " slots moved\n";
  return 0;
}

}  // namespace

void add_trend_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<TrendArguments>();
  CLI::App* command = program.add_subcommand("trend", "Show what many checks say (drift, placement, slots)");
  command->description(kTrendHelp);
  command->add_option("--record", arguments->record, "The file that check --record adds to, or the book of a bench")
      ->required();
  command->add_option("-o,--output", arguments->output, "Folder for trend.html, the charts");
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_trend(*arguments, streams); }; });
}

void add_settle_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<SettleArguments>();
  CLI::App* command = program.add_subcommand("settle", "Move a fixture file's slots to where loads were found");
  command->description(kSettleHelp);
  command->add_option("--record", arguments->record, "The file that check --record adds to, or the book of a bench")
      ->required();
  command->add_option("--fixture", arguments->fixture, "fixture.json to start from")->required();
  command->add_option("-o,--output", arguments->output, "The new fixture file")->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_settle(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
