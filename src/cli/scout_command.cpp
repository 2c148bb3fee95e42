#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/place_camera.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/fixture/like_file.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/measurement/scout_photo.hpp"

#include <cstdio>
#include <memory>
#include <optional>

namespace jigtrue::cli {
namespace {

struct ScoutArguments {
  std::string photo;
  CameraArguments camera;
  std::string like;
  std::string empty;
  std::string output;
};

constexpr const char* kScoutHelp =
    "Finds the slots of a jig from one photo of it, loaded, and writes its fixture file.\n"
    "\n"
    "Load every slot with the same kind of blank, each lying as it will be engraved, and take the photo as for a "
    "check: "
    "the whole jig\n"
    "in view, lid open or lamp on, nothing lying over the blanks. LIKE.json is a fixture file without slots: the "
    "blank's "
    "sizes and how\n"
    "high it lies (\"seat\"), both by callipers. No photo tells heights.\n"
    "\n"
    "Writes fixture.json: LIKE.json, its comments and all, with a slot for every blank found, numbered from the front "
    "to "
    "the back and\n"
    "in a row from left to right. Nothing is written unless the photo shows such blanks, whole and apart from each "
    "other.\n"
    "\n"
    "Example: jigtrue scout load.jpg --camera camera.json --like pens.json -o fixture.json";

std::string slot_table(const ScoutResult& result) {
  std::string table = "slot   X mm     Y mm     axis deg  +/-across  +/-along\n";
  for (const ScoutedPlace& blank : result.blanks) {
    char line[160];
    const ExpandedUncertainty& u = blank.measured.numbers->uncertainty;
    std::snprintf(line, sizeof line, "%-5s  %-7.2f  %-7.2f  %-8.2f  %-9.2f  %s\n", blank.slot.id.c_str(),
                  blank.slot.centre_mm.x(), blank.slot.centre_mm.y(), blank.slot.axis_deg, u.across_mm,
                  u.along_mm ? fixed_text(*u.along_mm, 2).c_str() : "-");
    table += line;
  }
  return table;
}

int run_scout(const ScoutArguments& arguments, Streams streams) {
  const CameraArguments& camera = arguments.camera;
  // LIKE.json may be written over: all that it holds is kept
  refuse_over_inputs(paths_of({arguments.photo, camera.camera, camera.lens, arguments.empty}),
                     paths_of({arguments.output, camera.show_move}));
  const CameraSource source = read_camera_source(camera);
  const std::string text = read_text_file(arguments.like);
  const LikeFile like = read_like(text, arguments.like);
  const std::string& empty_name = arguments.empty.empty() ? like.fixture.empty_photo : arguments.empty;
  std::optional<Photo> empty;
  if (!empty_name.empty()) empty = read_photo(empty_name);
  Photo photo = read_photo(arguments.photo);
  PlacedCamera placed;
  try {
    placed = place_camera(source, photo, like.fixture, {camera.repose, !camera.show_move.empty(), {}});
  } catch (const CameraMoved& moved) {
    refuse_moved_camera(camera, arguments.photo, moved);
  }
  ScoutOptions options;
  options.lens_error_px = placed.lens_error_px;
  options.empty = empty ? &*empty : nullptr;
  EdgeModelStore models;
  const ScoutResult result = scout_photo(photo, placed.camera, like, options, models);
  std::vector<SlotLine> slots;
  for (const ScoutedPlace& blank : result.blanks)
    slots.push_back({blank.slot.id, blank.slot.centre_mm, blank.slot.axis_deg, ""});
  const std::string written = with_slots(text, slots);
  (void)read_fixture(written, arguments.output);  // what is written must be what a check reads
  write_files({{arguments.output, written}});
  for (const std::string& note : placed.notes) streams.out << "note: " << ascii_text(note) << "\n";
  streams.out << slot_table(result) << "next: jigtrue check " << arguments.photo << " --camera "
              << arguments.camera.camera << " --fixture " << arguments.output << " -o load-1\n";
  return 0;
}

}  // namespace

void add_scout_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<ScoutArguments>();
  CLI::App* command = program.add_subcommand("scout", "Find a jig's slots from a photo of it loaded (once per jig)");
  command->description(kScoutHelp);
  command->add_option("photo", arguments->photo, "Photo of the loaded jig")->required();
  add_camera_options(*command, arguments->camera);
  command
      ->add_option("--like", arguments->like,
                   "fixture.json without slots (any are passed over): what the blanks are and how they lie")
      ->required();
  command->add_option("--empty", arguments->empty,
                      "Photo of the same jig without blanks (or \"empty_photo\" in LIKE.json): what both show is no "
                      "blank's");
  command->add_option("-o,--output", arguments->output, "fixture.json to write")->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_scout(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
