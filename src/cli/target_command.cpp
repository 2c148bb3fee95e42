#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/numbers.hpp"
#include "cli/write_jig.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/target/target_burn.hpp"
#include "jigtrue/target/target_sheet.hpp"

#include <cmath>
#include <filesystem>

namespace jigtrue::cli {
namespace {

struct TargetArguments {
  std::string board;
  bool marks = false;
  std::vector<std::string> burn;
  std::string grid;
  std::string area;
  std::string sheet = "a4";
  bool portrait = false;
  bool landscape = false;
  double field_mm = 8.0;
  double height_mm = 0.0;
  std::string bed;
  std::string machine;
  JigArguments jig;
  std::string output;
};

constexpr const char* kTargetHelp =
    "Draws what the camera is calibrated with, or a jig, in true size.\n"
    "\n"
    "--board: the checkerboard on a sheet to print (PDF or SVG), with rulers to check the print by callipers.\n"
    "--marks: a sheet of marks to cut out: for the bed (witness marks) or a fixture.\n"
    "--burn, or --grid with --area: an SVG of marks for the machine itself to burn on a scrap sheet, filled black at "
    "the machine's own\n"
    "coordinates; marks.json is written beside it, for jigtrue pose --marks. Fasten the sheet, burn, photograph, and "
    "only then remove it.\n"
    "--jig: the jig of a fixture file, for the machine to burn and cut from a sheet that is as thick as its top_mm: "
    "an opening with a\n"
    "stop for every slot, its id, marks laid unevenly, so that a hand-held photo tells its sides apart. A file without "
    "slots is given\n"
    "them by --rows and --pitch, about the middle of the bed. What the file lacks is written beside the drawing, as "
    "jig.json beside\n"
    "jig.svg: that file then measures the jig.\n"
    "\n"
    "Examples: jigtrue target --board 10x7x25 --sheet a4 -o board.pdf\n"
    "          jigtrue target --marks --sheet letter -o marks.pdf\n"
    "          jigtrue target --grid 4x3 --area 20,20,380,280 --bed 400x300 --height 3 -o burn.svg\n"
    "          jigtrue target --jig ten-rods.json --rows 10 --pitch 18 --bed 400x300 -o jig.svg";

enum class FileKind { svg, pdf };

FileKind kind_of(const std::string& output) {
  std::string ending = std::filesystem::path(output).extension().string();
  for (char& c : ending) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  if (ending == ".svg") return FileKind::svg;
  if (ending == ".pdf") return FileKind::pdf;
  throw input_error("-o " + output, "the file's ending must say what to write", "end it in .pdf or .svg");
}

std::string encoded(const TargetDrawing& drawing, FileKind kind) {
  return kind == FileKind::pdf ? target_pdf(drawing) : target_svg(drawing);
}

std::vector<double> sizes(const std::string& option, std::string text, const std::string& form) {
  for (char& c : text)
    if (c == 'x' || c == 'X') c = ',';
  return numbers(option, text, 2, form);
}

SheetSize sheet_size(const TargetArguments& arguments) {
  const auto size = sheet_size_from_string(arguments.sheet);
  if (!size) throw input_error("--sheet " + arguments.sheet, "not a known sheet", "use a4, a3 or letter");
  return *size;
}

SheetTurn sheet_turn(const TargetArguments& arguments) {
  if (arguments.portrait) return SheetTurn::portrait;
  return arguments.landscape ? SheetTurn::landscape : SheetTurn::best;
}

std::optional<Machine> declared_machine(const TargetArguments& arguments) {
  if (!arguments.machine.empty()) return read_machine(read_text_file(arguments.machine), arguments.machine);
  if (arguments.bed.empty()) return std::nullopt;
  const auto size = sizes("--bed", arguments.bed, "WIDTHxDEPTH");
  if (!(size[0] > 0.0 && size[1] > 0.0 && size[0] <= 5000.0 && size[1] <= 5000.0))
    throw input_error("--bed " + arguments.bed, "its sides must be more than 0 and at most 5000 mm",
                      "give the bed's width and depth in mm");
  Machine machine;
  machine.bed_mm = {size[0], size[1]};
  return machine;
}

Machine machine_for_burning(const TargetArguments& arguments) {
  if (const auto machine = declared_machine(arguments)) return *machine;
  throw input_error("--bed", "the bed's size is needed for marks to burn", "give --bed 400x300 or --machine FILE");
}

std::vector<Vector2d> burn_centres(const TargetArguments& arguments) {
  std::vector<Vector2d> centres;
  for (const std::string& text : arguments.burn) {
    const auto xy = numbers("--burn", text, 2, "X,Y");
    centres.emplace_back(xy[0], xy[1]);
  }
  if (arguments.grid.empty() && arguments.area.empty()) return centres;
  if (arguments.grid.empty() || arguments.area.empty())
    throw input_error("--grid", "--grid and --area go together", "give for example --grid 4x3 --area 20,20,380,280");
  const auto counts = sizes("--grid", arguments.grid, "COLUMNSxROWS");
  for (const double count : counts)
    if (count != std::floor(count) || count < 1.0 || count > 100.0)
      throw input_error("--grid " + arguments.grid, "it must be two whole numbers from 1 to 100",
                        "give for example 4x3");
  const auto corners = numbers("--area", arguments.area, 4, "X0,Y0,X1,Y1");
  for (const Vector2d& centre : mark_grid({corners[0], corners[1]}, {corners[2], corners[3]},
                                          static_cast<int>(counts[0]), static_cast<int>(counts[1]), arguments.field_mm))
    centres.push_back(centre);
  return centres;
}

int write_burn(const TargetArguments& arguments, FileKind kind, Streams streams) {
  if (kind != FileKind::svg)
    throw input_error("-o " + arguments.output, "marks to burn are written as SVG", "end the file's name in .svg");
  if (!std::isfinite(arguments.height_mm) || std::abs(arguments.height_mm) > 500.0)
    throw input_error("--height", "it must lie within 500 mm of the bed", "give the sheet's face above the bed in mm");
  const BurnMarks marks{machine_for_burning(arguments), burn_centres(arguments), arguments.height_mm,
                        arguments.field_mm};
  const TargetDrawing drawing = burn_drawing(marks);
  const std::filesystem::path json = std::filesystem::path(arguments.output).parent_path() / "marks.json";
  refuse_over_inputs({arguments.machine}, {arguments.output, json});
  write_files({{arguments.output, encoded(drawing, kind)}, {json, marks_json(marks)}});
  streams.out << marks.centres_mm.size() << " marks\n";
  if (marks.centres_mm.size() < 4)
    streams.out << "note: a pose needs at least four marks that are not in a line; six or more over the whole bed are "
                   "better\n";
  streams.out << "wrote " << arguments.output << "\nwrote " << json.string() << "\n";
  return 0;
}

int run_target(const TargetArguments& arguments, Streams streams) {
  const bool burn = !arguments.burn.empty() || !arguments.grid.empty() || !arguments.area.empty();
  const int kinds = (arguments.board.empty() ? 0 : 1) + (arguments.marks ? 1 : 0) + (burn ? 1 : 0) +
                    (arguments.jig.fixture.empty() ? 0 : 1);
  if (kinds != 1)
    throw input_error("target", kinds == 0 ? "nothing to draw" : "one file holds one kind of target",
                      "give one of --board, --marks, --jig, or --burn (or --grid with --area)");
  const FileKind kind = kind_of(arguments.output);
  if (!arguments.jig.fixture.empty()) {
    if (kind != FileKind::svg)
      throw input_error("-o " + arguments.output, "a jig is written as SVG", "end the file's name in .svg");
    return write_jig(arguments.jig, declared_machine(arguments), arguments.machine, arguments.output, streams);
  }
  if (burn) return write_burn(arguments, kind, streams);
  if (!arguments.board.empty()) {
    const BoardSheet sheet =
        board_sheet(parse_board_spec(arguments.board), sheet_size(arguments), sheet_turn(arguments));
    write_files({{arguments.output, encoded(sheet.drawing, kind)}});
    streams.out << "Print at 100 %, not fitted to the page; then measure the rulers with callipers.\n";
  } else {
    const MarkSheet sheet = mark_sheet(arguments.field_mm, sheet_size(arguments), sheet_turn(arguments));
    write_files({{arguments.output, encoded(sheet.drawing, kind)}});
    streams.out << sheet.centres_mm.size() << " marks. Print at 100 %, not fitted to the page.\n";
  }
  streams.out << "wrote " << arguments.output << "\n";
  return 0;
}

}  // namespace

void add_target_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<TargetArguments>();
  CLI::App* command = program.add_subcommand("target", "Draw the checkerboard, marks or a jig, to print or to burn");
  command->description(kTargetHelp);
  command->add_option("--board", arguments->board, "Squares and their size in mm, e.g. 10x7x25");
  command->add_flag("--marks", arguments->marks, "A sheet of marks to cut out");
  command->add_option("--burn", arguments->burn, "X,Y ...: centres of marks to burn, bed coordinates, mm");
  command->add_option("--grid", arguments->grid, "COLUMNSxROWS of marks to burn, spread over --area");
  command->add_option("--area", arguments->area, "X0,Y0,X1,Y1: two opposite corners on the bed, mm");
  auto& jig = arguments->jig;
  command->add_option("--jig", jig.fixture, "fixture.json of a jig to make");
  command->add_option("--rows", jig.rows, "Of a jig's slots, across the blanks, where its file has none (1)");
  command->add_option("--pitch", jig.pitch_mm, "From row to row, mm");
  command->add_option("--columns", jig.columns, "Of a jig's slots, along the blanks (1)");
  command->add_option("--column-pitch", jig.column_pitch_mm, "From column to column, mm");
  command->add_option("--play", jig.play_mm, "Between blank and slot at each side, mm (0.3)");
  command->add_option("--kerf", jig.kerf_mm, "What the beam takes off, mm: lines are drawn half of it inside (0)");
  command->add_option("--sheet", arguments->sheet, "a4 (default), a3 or letter");
  auto* portrait =
      command->add_flag("--portrait", arguments->portrait, "The sheet upright; the better way if not said");
  command->add_flag("--landscape", arguments->landscape, "The sheet on its side")->excludes(portrait);
  command->add_option("--field", arguments->field_mm, "Side of a mark's four fields, mm (8)");
  command->add_option("--height", arguments->height_mm, "Face of the sheet to be burned above the bed, mm");
  auto* bed = command->add_option("--bed", arguments->bed, "WIDTHxDEPTH of the bed, mm; origin at its front left");
  command->add_option("--machine", arguments->machine, "machine.json, instead of --bed")->excludes(bed);
  command->add_option("-o,--output", arguments->output, "File to write: .pdf or .svg; .svg for what is burned")
      ->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_target(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
