#include "cli/beam_option.hpp"
#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/machine_option.hpp"
#include "cli/photo_of_report.hpp"
#include "cli/place_arguments.hpp"
#include "cli/place_proof.hpp"
#include "cli/place_source.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/inspection/apply_beam.hpp"
#include "jigtrue/layout/apply_machine.hpp"
#include "jigtrue/layout/correct_job.hpp"
#include "jigtrue/layout/fit_artwork.hpp"
#include "jigtrue/layout/layout_dxf.hpp"
#include "jigtrue/layout/layout_svg.hpp"
#include "jigtrue/layout/run_time.hpp"
#include "jigtrue/layout/sketch_layout.hpp"
#include "jigtrue/report/check_outputs.hpp"
#include "jigtrue/report/placement_files.hpp"
#include "jigtrue/report/read_report.hpp"

#include <cmath>
#include <cstdio>
#include <filesystem>
#include <optional>

namespace jigtrue::cli {
namespace {

constexpr const char* kPlaceHelp =
    "Places artwork on the blanks that check has measured, ready to be burned.\n"
    "\n"
    "Either from drawings: one (--design), several passes in the order of burning (--pass, or --job with their "
    "speeds), "
    "or a list of\n"
    "names (--names list.csv --font letters.ttf). Each is centred by its ink on its slot. Or from your own layout, "
    "drawn "
    "for the\n"
    "fixture's nominal place with one group for each slot (--layout): then only the groups' transforms change.\n"
    "--proof writes proof.svg alone: the frame of one slot's design, to be burned lightly on tape laid over its blank, "
    "and says what\n"
    "callipers should find, and proof.json, by which jigtrue inspect finds it on a photo. Do it once for a machine, "
    "before the first load.\n"
    "Slots that are empty, doubtful or where the artwork does not fit are left out and listed; with --strict nothing "
    "is "
    "written then.\n"
    "\n"
    "Writes into the output folder: layout.svg, layout.dxf (not from --layout), placement.csv, placement.json, and, "
    "where the photo\n"
    "still is, annotated.jpg and report.html with the artwork drawn on it.\n"
    "\n"
    "Example: jigtrue place load-1/report.json --design fixtures/demo/pens/name.svg -o load-1-placed";

std::string duration(double seconds) {
  const auto whole = static_cast<long>(std::lround(seconds));
  char text[32];
  std::snprintf(text, sizeof text, "%ld min %02ld s", whole / 60, whole % 60);
  return text;
}

void print_run_time(const RunTime& run, Streams streams) {
  if (run.passes.empty()) return;
  streams.out << "run time: about " << duration(run.seconds) << "\n";
  for (const PassTime& pass : run.passes) {
    streams.out << "  " << (pass.name.empty() ? "design" : terminal_text(pass.name)) << ": " << duration(pass.seconds);
    if (pass.lines > 0) streams.out << ", " << pass.lines << " lines";
    streams.out << "\n";
  }
}

void refuse_left_out(const std::vector<LeftOut>& left_out, bool strict) {
  if (!strict || left_out.empty()) return;
  std::string list;
  for (const LeftOut& slot : left_out)
    list += (list.empty() ? "slot " : ", slot ") + slot.slot_id + " (" + slot.reason + ")";
  throw input_error("--strict", "not every slot can be placed: " + list, "mend them, or leave out --strict");
}

// annotated.jpg and report.html with what is placed drawn on the photo; a note where the photo is gone.
void add_pictures(const PlaceArguments& arguments, CheckResult& result, const ReportOptions& options,
                  std::vector<std::string>& notes, std::vector<FileContent>& files) {
  std::optional<Photo> photo = photo_of(result, arguments.report);
  if (!photo) {
    notes.push_back("The photo " + result.photo_file +
                    " is not where it was, or not the same: what was placed is not drawn on it.");
    return;
  }
  sketch_art(options.art, result);
  for (FileContent& file : picture_outputs(arguments.output, result, *std::move(photo), options))
    files.push_back(std::move(file));
}

Paths place_inputs(const PlaceArguments& arguments, const CheckResult& result) {
  Paths inputs = paths_of({arguments.report, arguments.design, arguments.job, arguments.layout, arguments.names,
                           arguments.font, arguments.machine});
  for (const Paths& more : {photo_places(result, arguments.report), paths_of(arguments.apply_beam)})
    inputs.insert(inputs.end(), more.begin(), more.end());
  return inputs;
}

int finish(const std::filesystem::path& folder, const Paths& inputs, const std::vector<FileContent>& files,
           std::size_t placed, const std::vector<LeftOut>& left_out, const std::vector<std::string>& notes,
           Streams streams) {
  Paths outputs;
  for (const FileContent& file : files) outputs.push_back(file.path);
  refuse_over_inputs(inputs, outputs);
  prepare_folder(folder);
  write_files(files);
  streams.out << "placed: " << placed << " of " << placed + left_out.size() << " slots\n";
  for (const LeftOut& slot : left_out)
    streams.out << "  left out: slot " << terminal_text(slot.slot_id + ": " + slot.reason) << "\n";
  for (const std::string& note : notes) streams.out << "note: " << terminal_text(note) << "\n";
  streams.out << "layout: " << files.front().path.string() << "\n";
  return left_out.empty() ? 0 : 1;
}

int place_drawings(const PlaceArguments& arguments, CheckResult result, const ReportOptions& options, Streams streams) {
  Source source = read_source(arguments);
  DesignArt art;
  if (!source.common.empty()) art.common = std::make_shared<const std::vector<Pass>>(source.common);
  if (!arguments.names.empty()) add_names(arguments, result, source, art);
  fit_artwork(result, art, arguments.wrap);
  if (options.machine) judge_on_bed(result, *options.machine);
  Placement placement = place_designs(result, options.machine, art);
  for (LeftOut& slot : placement.left_out)
    if (const auto own = source.texts.find(slot.slot_id); own != source.texts.end())
      slot.reason += "; \"" + own->second + "\" is not engraved";
  refuse_left_out(placement.left_out, arguments.strict);
  const RunTime run = estimate_run_time(placement, source.job.travel_mm_s);
  std::vector<std::string> notes;
  if (std::string page = page_caution(result, options.machine); !page.empty())
    notes.insert(notes.begin(), std::move(page));
  notes.insert(notes.begin(), source.notes.begin(), source.notes.end());
  if (std::string note = machine_note(result); !note.empty()) notes.insert(notes.begin(), std::move(note));
  const std::filesystem::path folder = arguments.output;
  Paths inputs = place_inputs(arguments, result);
  inputs.insert(inputs.end(), source.files.begin(), source.files.end());
  ReportOptions drawn = options;
  drawn.art = art;
  std::vector<FileContent> files = {
      {folder / "layout.svg", layout_svg(placement, result.fixture_name, options.machine)},
      {folder / "layout.dxf", layout_dxf(placement)},
      {folder / "placement.csv", placement_csv(result, placement)},
      {folder / "placement.json", placement_json(result, placement, run, notes, drawn)}};
  add_pictures(arguments, result, drawn, notes, files);
  const int status = finish(folder, inputs, files, placement.placed.size(), placement.left_out, notes, streams);
  print_run_time(run, streams);
  return status;
}

int correct_layout(const PlaceArguments& arguments, const CheckResult& result, const ReportOptions& options,
                   Streams streams) {
  CorrectedJob job = correct_job(read_svg_file(arguments.layout), arguments.layout, result, options.machine);
  refuse_left_out(job.left_out, arguments.strict);
  if (std::string note = machine_note(result); !note.empty()) job.notes.insert(job.notes.begin(), std::move(note));
  const Placement placement = place_designs(job.result, options.machine);
  const std::filesystem::path folder = arguments.output;
  ReportOptions drawn = options;
  drawn.art = job.art;
  std::vector<FileContent> files = {
      {folder / "layout.svg", job.svg},
      {folder / "placement.csv", placement_csv(job.result, placement)},
      {folder / "placement.json", placement_json(job.result, placement, {}, job.notes, drawn)}};
  add_pictures(arguments, job.result, drawn, job.notes, files);
  return finish(folder, place_inputs(arguments, result), files, job.placed.size(), job.left_out, job.notes, streams);
}

// A report that check has already corrected stays as it is.
void correct_for_machine(const PlaceArguments& arguments, CheckResult& result) {
  if (result.machine_applied) return;
  if (!result.machine)
    throw input_error(arguments.report, "it holds nothing about the machine, so --apply-machine has nothing to apply",
                      "check with a camera file from pose --marks of at least five burned marks");
  apply_machine(result);
  // what check has said of it holds no longer
  std::erase_if(result.notes, [](const std::string& note) { return note.starts_with("The machine's own errors"); });
  result.notes.insert(result.notes.begin(), machine_note(result));
}

int run_place(const PlaceArguments& arguments, Streams streams) {
  refuse_mixture(arguments);
  const std::string report_text = read_text_file(arguments.report);
  CheckResult result = read_report(report_text, arguments.report);
  if (arguments.apply_machine) correct_for_machine(arguments, result);
  if (const auto beam = beam_of(arguments.apply_beam)) apply_beam(*beam, beam_source(arguments.apply_beam), result);
  ReportOptions options;
  options.created = time_now();
  options.software_version = version();
  options.machine =
      arguments.machine.empty() ? read_report_bed(report_text, arguments.report) : machine_of(arguments.machine);
  if (arguments.proof) {
    const Paths inputs = place_inputs(arguments, result);
    return place_proof(arguments, std::move(result), options, inputs, streams);
  }
  if (!arguments.layout.empty()) return correct_layout(arguments, result, options, streams);
  return place_drawings(arguments, result, options, streams);
}

}  // namespace

void add_place_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<PlaceArguments>();
  CLI::App* command = program.add_subcommand("place", "Place artwork on the blanks that check has measured");
  command->description(kPlaceHelp);
  command->add_option("report", arguments->report, "report.json that jigtrue check wrote")->required();
  command->add_option("--design", arguments->design, "One drawing (SVG) for every slot");
  command->add_option("--pass", arguments->passes, "NAME=DRAWING, repeated in the order of burning")
      ->expected(1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
  command->add_option("--job", arguments->job, "job.json: the passes with their drawings, speeds and lines");
  command->add_option("--layout", arguments->layout, "Your own layout (SVG), one group for each slot, to be corrected");
  command->add_option("--names", arguments->names, "CSV with the columns slot and text (or artwork)");
  command->add_option("--font", arguments->font, "Font file (.ttf, .otf) for the names");
  command->add_option("--text-height", arguments->text_height_mm,
                      "Height of the names in mm, tallest and deepest letter together; as tall as fits when left out");
  command->add_option(
      "--machine", arguments->machine,
      "machine.json: the bed's size and the corner of its origin; the report remembers the one it was made with");
  command->add_flag("--wrap", arguments->wrap,
                    "Round blanks: squeeze the artwork so that it looks true along the curve");
  command->add_flag("--apply-machine", arguments->apply_machine,
                    "Correct places and angles by the machine's scale and squareness, when the report has not yet");
  add_beam_option(*command, arguments->apply_beam);
  command->add_flag("--proof", arguments->proof,
                    "One slot's frame alone, to burn on tape: do machine, import and photo mean the same place?");
  command->add_flag("--strict", arguments->strict, "Refuse when some slot cannot be placed, instead of leaving it out");
  command->add_option("-o,--output", arguments->output, "Folder for the output files")->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_place(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
