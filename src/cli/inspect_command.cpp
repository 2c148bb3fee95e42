#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/place_camera.hpp"
#include "jigtrue/base/append_line.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/bench/book.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/report/inspection_words.hpp"
#include "jigtrue/report/read_laid_load.hpp"
#include "jigtrue/workbench/inspect_photo.hpp"

#include <filesystem>
#include <memory>
#include <optional>

namespace jigtrue::cli {
namespace {

struct InspectArguments {
  std::string photo;
  CameraArguments camera;
  std::string report;
  std::string placement;
  std::string design;
  std::string record;
  std::string output;
};

constexpr const char* kInspectHelp =
    "Sees what was burned: finds the drawing's mark on every blank of the load and says how far it sits from where it "
    "belongs on\n"
    "its blank and from where the layout put it, how dark and how even it is, and what camera and beam disagree by.\n"
    "\n"
    "Take the photo after burning, before anything is taken out: the same camera, its lens wiped, evenly lit. Blanks "
    "are measured\n"
    "anew, so one that was touched since still shows how its mark sits on it.\n"
    "--report is the load's report.json; it holds the fixture and, where check was given --design, the drawing. "
    "--placement is what\n"
    "jigtrue place wrote, if that was burned: placement.json of a layout, or proof.json of a frame burned on tape "
    "before "
    "a blank\n"
    "is spent, which tells camera against beam alone.\n"
    "\n"
    "With --record the load is kept beside earlier ones: a mark is then judged by those, too, and the page shows the "
    "beam over them.\n"
    "\n"
    "Writes into the output folder: inspection.html (open this), annotated.jpg, inspection.json, and again.svg and "
    "again.dxf:\n"
    "the layout for exactly the pieces that want another pass, where they lie now. They lie there until the lid is "
    "opened: burn them first.\n"
    "\n"
    "Example: jigtrue inspect burned.jpg --camera camera.json --report load-1/report.json -o load-1-burned";

InspectSetup read_inspect_setup(const InspectArguments& arguments) {
  InspectSetup setup{read_camera_source(arguments.camera), {}};
  DesignArt art;
  if (!arguments.design.empty()) art = common_art(read_artwork(read_svg_file(arguments.design), arguments.design));
  std::optional<NamedText> placement;
  if (!arguments.placement.empty()) placement = NamedText{read_text_file(arguments.placement), arguments.placement};
  setup.laid = read_laid_load({read_text_file(arguments.report), arguments.report}, placement, art);
  setup.place = {arguments.camera.repose, !arguments.camera.show_move.empty(), std::nullopt};
  setup.software_version = version();
  std::error_code none;
  if (!arguments.record.empty() && std::filesystem::exists(arguments.record, none)) {
    if (is_book(arguments.record))
      throw input_error(arguments.record, "it is a bench's book; the bench looks at burned loads itself",
                        "give a file of its own to --record");
    setup.record = read_text_file(arguments.record);
  }
  return setup;
}

InspectedLoad inspected(const InspectArguments& arguments, const InspectSetup& setup) {
  try {
    return inspect_photo(setup, read_photo(arguments.photo), time_now());
  } catch (const CameraMoved& moved) {
    refuse_moved_camera(arguments.camera, arguments.photo, moved);
  }
}

// A record that cannot be written is said, but the inspection stands.
void keep_burn_record(const std::string& file, const BurnRecord& load, Streams streams) {
  if (file.empty()) return;
  try {
    append_line(file, burn_record_line(load));
  } catch (const InputError& error) {
    streams.err << "jigtrue: this load was not recorded: " << error.what() << "\n";
  }
}

int run_inspect(const InspectArguments& arguments, Streams streams) {
  const Paths inputs = paths_of({arguments.photo, arguments.camera.camera, arguments.camera.lens, arguments.report,
                                 arguments.placement, arguments.design});
  Paths outputs =
      in_folder(arguments.output, {"inspection.json", "inspection.html", "annotated.jpg", "again.svg", "again.dxf"});
  outputs.emplace_back(arguments.record);
  outputs.emplace_back(arguments.camera.show_move);
  refuse_over_inputs(inputs, outputs);
  refuse_twice(outputs);
  const InspectSetup setup = read_inspect_setup(arguments);
  InspectedLoad load = inspected(arguments, setup);
  const std::filesystem::path folder = arguments.output;
  for (FileContent& file : load.files) file.path = folder / file.path;
  prepare_folder(folder);
  write_files(load.files);
  if (!load.result.proof) keep_burn_record(arguments.record, load.record, streams);
  streams.out << inspection_table(load.result);
  for (const std::string& note : load.result.notes) streams.out << "note: " << terminal_text(note) << "\n";
  streams.out << "page:    " << (folder / "inspection.html").string() << "\n"
              << "picture: " << (folder / "annotated.jpg").string() << "\n";
  if (!again_sentence(load.result).empty()) streams.out << "again:   " << (folder / "again.svg").string() << "\n";
  return load.result.needs_person() ? 1 : 0;
}

}  // namespace

void add_inspect_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<InspectArguments>();
  CLI::App* command = program.add_subcommand("inspect", "See what was burned on each blank, and where");
  command->description(kInspectHelp);
  command->add_option("photo", arguments->photo, "Photo of the load after burning")->required();
  add_camera_options(*command, arguments->camera);
  command->add_option("--report", arguments->report, "report.json of this load, from jigtrue check")->required();
  command->add_option("--placement", arguments->placement,
                      "placement.json of the layout that was burned, from jigtrue place");
  command->add_option("--design", arguments->design,
                      "The drawing (SVG) that was burned, where report and placement do not hold it");
  command->add_option("--record", arguments->record,
                      "File that keeps every inspected load, one line each; may be the one that check keeps");
  command->add_option("-o,--output", arguments->output, "Folder for the output files")->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_inspect(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
