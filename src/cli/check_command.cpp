#include "cli/beam_option.hpp"
#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/machine_option.hpp"
#include "cli/photo_top.hpp"
#include "cli/place_camera.hpp"
#include "jigtrue/base/append_line.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/history/load_record.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/layout/apply_machine.hpp"
#include "jigtrue/layout/usable_band.hpp"
#include "jigtrue/report/standing.hpp"
#include "jigtrue/report/table.hpp"
#include "jigtrue/workbench/workbench.hpp"

#include <filesystem>
#include <optional>
#include <utility>

namespace jigtrue::cli {
namespace {

struct CheckArguments {
  std::string photo;
  CameraArguments camera;
  std::string fixture;
  std::string machine;
  std::string design;
  std::string empty;
  std::string record;
  bool apply_machine = false;
  std::vector<std::string> apply_beam;
  std::string output;
};

constexpr const char* kCheckHelp =
    "Measures where each blank of the loaded fixture lies and writes the offsets and a placed layout.\n"
    "\n"
    "Take the photo with the lid open or the lamp on, evenly lit, nothing in front of the blanks, the same resolution "
    "as the\n"
    "calibration's photos. In fixture.json declare, measured with callipers: the blank's diameter and length, the "
    "groove's bottom height\n"
    "and angle (or the floor's height), and each slot's centre and direction on the bed.\n"
    "\n"
    "Writes into the output folder: report.html (open this), annotated.jpg, layout.svg (true millimetres), "
    "offsets.csv, report.json.\n"
    "\n"
    "A fixture with marks of its own (marks_mm) is placed by them; with --self-locate and --lens they also say where "
    "the "
    "photo was\n"
    "taken from, so a camera held by hand serves. The bed's witness marks tell a camera that has moved: then the photo "
    "is "
    "refused.\n"
    "A photo of the same jig without blanks, taken once, makes the states surer (--empty, or empty_photo in "
    "fixture.json).\n"
    "When burned marks gave the camera's place, --apply-machine corrects all places by what they said about the "
    "machine.\n"
    "\n"
    "Example: jigtrue check fixtures/demo/pens/photo.jpg --camera camera.json --fixture "
    "fixtures/demo/pens/fixture.json -o load-1";

// A record that cannot be written is said, but the check stands.
void keep_record(const std::string& file, const LoadRecord& load, Streams streams) {
  if (file.empty()) return;
  try {
    append_line(file, record_line(load));
  } catch (const InputError& error) {
    streams.err << "jigtrue: this load was not recorded: " << error.what() << "\n";
  }
}

// Everything is read before anything is written; the record is both.
Paths outputs_of(const CheckArguments& arguments) {
  Paths outputs =
      in_folder(arguments.output, {"report.json", "offsets.csv", "layout.svg", "annotated.jpg", "report.html"});
  outputs.emplace_back(arguments.camera.show_move);
  outputs.emplace_back(arguments.record);
  return outputs;
}

void guard_inputs(const CheckArguments& arguments) {
  const CameraArguments& camera = arguments.camera;
  const Paths outputs = outputs_of(arguments);
  refuse_over_inputs(paths_of({arguments.photo, camera.camera, camera.lens, arguments.fixture, arguments.machine,
                               arguments.design, arguments.empty}),
                     outputs);
  refuse_over_inputs(paths_of(arguments.apply_beam), outputs);
  refuse_twice(outputs);
}

void refuse_without_machine(const CheckArguments& arguments, const CameraSource& source) {
  if (!arguments.apply_machine) return;
  const auto* record = std::get_if<CameraRecord>(&source);
  if (record == nullptr)
    throw input_error("--apply-machine", "it needs a camera file, and --self-locate has none",
                      "give --camera, or leave it out");
  if (!record->machine)
    throw input_error(arguments.camera.camera,
                      "it holds nothing about the machine, so --apply-machine has nothing to apply",
                      "make it with pose --marks from at least five marks that the machine has burned");
}

BenchSetup read_setup(const CheckArguments& arguments) {
  BenchSetup setup{read_camera_source(arguments.camera), {}};
  refuse_without_machine(arguments, setup.camera);
  setup.fixture = read_fixture(read_text_file(arguments.fixture), arguments.fixture);
  const std::string machine = machine_file(arguments.machine, setup.fixture, arguments.fixture);
  refuse_over_inputs(paths_named_by(setup.fixture, arguments.fixture), outputs_of(arguments));
  setup.machine = machine_of(machine);
  if (!arguments.design.empty()) {
    const Artwork artwork = read_artwork(read_svg_file(arguments.design), arguments.design);
    set_design_size(setup.fixture, artwork.ink.size());
    setup.art = common_art(artwork);
    setup.design_notes = artwork.notes;
  }
  const std::string& empty = arguments.empty.empty() ? setup.fixture.empty_photo : arguments.empty;
  if (!empty.empty()) setup.empty = read_photo(empty);
  setup.place = {arguments.camera.repose, !arguments.camera.show_move.empty(), photo_top(arguments.camera.photo_top)};
  setup.apply_figures = arguments.apply_machine;
  setup.beam = beam_of(arguments.apply_beam);
  setup.beam_source = beam_source(arguments.apply_beam);
  setup.software_version = version();
  return setup;
}

CheckedLoad check_load(const CheckArguments& arguments, Workbench& bench, Photo photo, const std::string& time) {
  try {
    CheckedLoad load = bench.check(std::move(photo), time);
    if (!load.move_picture.empty()) write_files({{arguments.camera.show_move, load.move_picture}});
    return load;
  } catch (const CameraMoved& moved) {
    refuse_moved_camera(arguments.camera, arguments.photo, moved);
  }
}

int run_check(const CheckArguments& arguments, Streams streams) {
  guard_inputs(arguments);
  const std::string time = time_now();
  Workbench bench(read_setup(arguments));
  prepare_folder(arguments.output);
  CheckedLoad load = check_load(arguments, bench, read_photo(arguments.photo), time);
  const std::filesystem::path folder = arguments.output;
  for (FileContent& file : load.files) file.path = folder / file.path;
  prepare_folder(folder);
  write_files(load.files);
  keep_record(arguments.record, load.record, streams);
  streams.out << result_table(load.result);
  for (const std::string& note : load.result.notes) streams.out << "note: " << terminal_text(note) << "\n";
  for (const std::string& caution : cautions(load.result, bench.setup().machine))
    streams.out << "caution: " << terminal_text(caution) << "\n";
  if (load.result.machine_applied) streams.out << "machine: " << terminal_text(machine_note(load.result)) << "\n";
  streams.out << "page:    " << (folder / "report.html").string() << "\n"
              << "picture: " << (folder / "annotated.jpg").string() << "\n"
              << "layout:  " << (folder / "layout.svg").string() << "\n";
  return load.result.needs_person() ? 1 : 0;
}

}  // namespace

void add_check_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<CheckArguments>();
  CLI::App* command = program.add_subcommand("check", "Measure a loaded fixture (for every load)");
  command->description(kCheckHelp);
  command->add_option("photo", arguments->photo, "Photo of the loaded fixture")->required();
  add_camera_options(*command, arguments->camera);
  command->add_option("--fixture", arguments->fixture, "fixture.json: blanks, seats, slots, designs")->required();
  command->add_option(
      "--machine", arguments->machine,
      "machine.json: the bed's size and the corner of its origin; a fixture file may name it (\"machine\")");
  command->add_option("--record", arguments->record,
                      "File that this check is added to, one line a load, for jigtrue trend and settle");
  command->add_option("--design", arguments->design,
                      "The drawing (SVG) to be engraved: its ink replaces the fixture file's design box");
  command->add_option("--empty", arguments->empty,
                      "Photo of the same jig without blanks, taken once by the same camera (or \"empty_photo\" in "
                      "fixture.json): what both show is no blank's");
  command->add_flag("--apply-machine", arguments->apply_machine,
                    "Correct places and angles by the machine's scale and squareness, as pose --marks measured them");
  add_beam_option(*command, arguments->apply_beam);
  command->add_option("-o,--output", arguments->output, "Folder for the five output files")->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_check(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
