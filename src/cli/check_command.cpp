#include "cli/commands.hpp"
#include "cli/place_camera.hpp"
#include "jigtrue/base/append_line.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/history/load_record.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/layout/apply_machine.hpp"
#include "jigtrue/layout/usable_band.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/report/check_outputs.hpp"
#include "jigtrue/report/table.hpp"

#include <filesystem>
#include <optional>
#include <utility>

#ifdef __GLIBC__
#include <malloc.h>
#endif

namespace jigtrue::cli {
namespace {

struct CheckArguments {
  std::string photo;
  CameraArguments camera;
  std::string fixture;
  std::string machine;
  std::string design;
  std::string record;
  bool apply_machine = false;
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

// A line added to another file would spoil that.
void refuse_record_over_input(const CheckArguments& arguments) {
  if (arguments.record.empty()) return;
  for (const std::string& input : {arguments.photo, arguments.camera.camera, arguments.camera.lens, arguments.fixture,
                                   arguments.machine, arguments.design}) {
    std::error_code none;
    if (!input.empty() && std::filesystem::equivalent(arguments.record, input, none))
      throw input_error("--record " + arguments.record, "is an input of this check",
                        "give the record a file of its own");
  }
}

void refuse_without_machine(const CheckArguments& arguments, const CameraSource& source) {
  if (!arguments.apply_machine) return;
  if (!source.record)
    throw input_error("--apply-machine", "it needs a camera file, and --self-locate has none",
                      "give --camera, or leave it out");
  if (!source.record->machine)
    throw input_error(arguments.camera.camera,
                      "it holds nothing about the machine, so --apply-machine has nothing to apply",
                      "make it with pose --marks from at least five marks that the machine has burned");
}

// Measuring asks for many small pieces; glibc keeps them, and what is written afterwards would come on top.
void give_back_memory() {
#ifdef __GLIBC__
  malloc_trim(0);
#endif
}

int run_check(const CheckArguments& arguments, Streams streams) {
  const CameraSource source = read_camera_source(arguments.camera);
  refuse_without_machine(arguments, source);
  refuse_record_over_input(arguments);
  Fixture fixture = read_fixture(read_text_file(arguments.fixture), arguments.fixture);
  ReportOptions report;
  report.created = time_now();
  report.software_version = version();
  if (!arguments.machine.empty()) report.machine = read_machine(read_text_file(arguments.machine), arguments.machine);
  std::vector<std::string> design_notes;
  if (!arguments.design.empty()) {
    const Artwork artwork = read_artwork(read_text_file(arguments.design), arguments.design);
    set_design_size(fixture, artwork.ink.size());
    report.art = common_art(artwork);
    design_notes = artwork.notes;
  }
  prepare_folder(arguments.output);
  Photo photo = read_photo(arguments.photo);
  const PlacedCamera placed = place_camera(arguments.camera, source, photo, fixture);
  CheckOptions options;
  options.lens_error_px = placed.lens_error_px;
  CheckResult result = check_photo(photo, placed.camera, fixture, options);
  give_back_memory();
  result.witness = placed.witness;
  result.self_located = placed.self_located;
  result.notes.insert(result.notes.begin(), placed.notes.begin(), placed.notes.end());
  result.notes.insert(result.notes.end(), design_notes.begin(), design_notes.end());
  judge_designs(fixture, result, report.machine);
  sketch_bands(placed.camera, fixture, result);
  // the record and the picture speak of where the camera sees the blanks, the rest of what the machine must be told
  const LoadRecord load = load_record(result, fixture, report.created);
  if (source.record) result.machine = source.record->machine;
  if (arguments.apply_machine) apply_machine(result);
  write_check_outputs(arguments.output, result, std::move(photo), report);
  keep_record(arguments.record, load, streams);
  streams.out << result_table(result);
  if (result.machine_applied) streams.out << "machine: " << ascii_text(machine_note(result)) << "\n";
  streams.out << "page:    " << (std::filesystem::path(arguments.output) / "report.html").string() << "\n"
              << "picture: " << (std::filesystem::path(arguments.output) / "annotated.jpg").string() << "\n"
              << "layout:  " << (std::filesystem::path(arguments.output) / "layout.svg").string() << "\n";
  return result.needs_person() ? 1 : 0;
}

}  // namespace

void add_check_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<CheckArguments>();
  CLI::App* command = program.add_subcommand("check", "Measure a loaded fixture (for every load)");
  command->description(kCheckHelp);
  command->add_option("photo", arguments->photo, "Photo of the loaded fixture")->required();
  add_camera_options(*command, arguments->camera);
  command->add_option("--fixture", arguments->fixture, "fixture.json: blanks, seats, slots, designs")->required();
  command->add_option("--machine", arguments->machine, "machine.json: the bed's size and the corner of its origin");
  command->add_option("--record", arguments->record,
                      "File that this check is added to, one line a load, for jigtrue trend and settle");
  command->add_option("--design", arguments->design,
                      "The drawing (SVG) to be engraved: its ink replaces the fixture file's design box");
  command->add_flag("--apply-machine", arguments->apply_machine,
                    "Correct places and angles by the machine's scale and squareness, as pose --marks measured them");
  command->add_option("-o,--output", arguments->output, "Folder for the five output files")->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_check(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
