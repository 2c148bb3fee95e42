#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/machine_option.hpp"
#include "cli/photo_top.hpp"
#include "cli/place_camera.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/fixture/like_file.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/measurement/measure_sizes.hpp"
#include "jigtrue/measurement/scout_photo.hpp"
#include "jigtrue/report/scout_page.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <memory>
#include <optional>
#include <vector>

namespace jigtrue::cli {
namespace {

struct ScoutArguments {
  std::string photo;
  std::vector<std::string> more;
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
    "high it lies (\"seat\"), both by callipers. In place of a diameter, a length, a plate's width or height it may "
    "say\n"
    "\"measure\": then the photo does. No photo tells how high a blank lies or how thick it is: set the callipers' end "
    "on\n"
    "its top and their depth rod down to the bed (\"crown_mm\"), a flat blank between their jaws (\"thickness_mm\").\n"
    "\n"
    "Writes fixture.json: LIKE.json, its comments and all, with a slot for every blank found, numbered from the front "
    "to "
    "the back and\n"
    "in a row from left to right. Nothing is written unless the photo shows such blanks, whole and apart from each "
    "other.\n"
    "\n"
    "Example: jigtrue scout load.jpg --camera camera.json --like pens.json -o fixture.json\n"
    "         jigtrue scout --add load-2.jpg --camera camera.json --like fixture.json -o fixture-2.json";

std::string slot_table(const ScoutResult& result) {
  std::string table = "slot   X mm     Y mm     axis deg  blank there: along  across   turn\n";
  for (const ScoutedSlot& each : result.slots) {
    char line[200];
    std::snprintf(line, sizeof line, "  %-7.2f  %-7.2f  %-8.2f  ", each.slot.centre_mm.x(), each.slot.centre_mm.y(),
                  each.slot.axis_deg);
    table += terminal_cell(each.slot.id, 5) + line;
    if (each.blank) {
      const double axis = rad_from_deg(each.slot.axis_deg);
      const Vector2d off = each.blank->slot.centre_mm - each.slot.centre_mm;
      std::snprintf(line, sizeof line, "%18s  %6s  %6s",
                    fixed_text(off.x() * std::cos(axis) + off.y() * std::sin(axis), 2).c_str(),
                    signed_text(off.y() * std::cos(axis) - off.x() * std::sin(axis), 2).c_str(),
                    signed_text(std::remainder(each.blank->slot.axis_deg - each.slot.axis_deg, 180.0), 2).c_str());
      table += line;
    } else {
      table += each.note;
    }
    table += "\n";
  }
  return table;
}

std::string grid_text(const RegularGrid& grid) {
  char text[200];
  std::snprintf(text, sizeof text, "regular: %d x %d, all slots along %.2f deg (+/- %.2f)", grid.rows, grid.columns,
                grid.axis_deg, grid.u_axis_deg);
  std::string line = text;
  const auto add = [&](const char* name, const std::optional<Pitch>& pitch) {
    if (!pitch) return;
    std::snprintf(text, sizeof text, ", pitch %s %.2f mm (+/- %.2f)", name, pitch->mm, pitch->u_mm);
    line += text;
  };
  add("across", grid.row_pitch);
  add("along", grid.column_pitch);
  const auto two = [&](const char* name, int count, const Vector2d& step_mm) {
    if (count != 2) return;
    std::snprintf(text, sizeof text, ", two %s %.2f mm apart", name, step_mm.norm());
    line += text;
  };
  two("rows", grid.rows, grid.row_step_mm);
  two("columns", grid.columns, grid.column_step_mm);
  return line + "\n";
}

// As a shell needs it: names with spaces and the like in single quotes.
std::string quoted(const std::string& name) {
  const bool plain = std::all_of(name.begin(), name.end(), [](unsigned char c) {
    return c >= 0x80 || std::isalnum(c) != 0 || std::strchr("/._-+,=:@%", c) != nullptr;
  });
  if (plain && !name.empty()) return name;
  std::string out = "'";
  for (const char c : name) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

std::string next_command(const ScoutArguments& arguments, const std::string& photo) {
  const CameraArguments& camera = arguments.camera;
  return "jigtrue check " + quoted(photo) +
         (camera.self_locate ? " --self-locate --lens " + quoted(camera.lens) : " --camera " + quoted(camera.camera)) +
         " --fixture " + quoted(arguments.output) +
         (arguments.empty.empty() ? "" : " --empty " + quoted(arguments.empty)) + " -o load-1";
}

struct PlacedPhoto {
  Photo photo;
  PlacedCamera where;
};

PlacedPhoto placed_photo(const std::string& file, const CameraSource& source, const Fixture& fixture,
                         const CameraArguments& camera) {
  PlacedPhoto placed{read_photo(file), {}};
  try {
    placed.where = place_camera(source, placed.photo, fixture,
                                {camera.repose, !camera.show_move.empty(), photo_top(camera.photo_top)});
  } catch (const CameraMoved& moved) {
    refuse_moved_camera(camera, file, moved);
  }
  return placed;
}

// The photos to scout: this one, or those that the file's slots were found from, and what is added.
std::vector<std::string> photos_of(const ScoutArguments& arguments, const LikeFile& like) {
  std::vector<std::string> photos = arguments.photo.empty() ? like.loads : std::vector{arguments.photo};
  if (photos.empty())
    throw input_error(arguments.like,
                      "it does not say from which photos its slots were found, so another one cannot be added",
                      "give the first load's photo as well");
  if (arguments.photo.empty() && arguments.more.empty())
    throw input_error("scout", "no photo is given",
                      "give the photo of the loaded jig, or add one to a file with --add");
  photos.insert(photos.end(), arguments.more.begin(), arguments.more.end());
  return photos;
}

std::vector<std::string> seen_from(const std::filesystem::path& folder, const std::vector<std::string>& photos) {
  std::vector<std::string> names;
  names.reserve(photos.size());
  for (const std::string& photo : photos)
    names.push_back(std::filesystem::proximate(photo, folder.empty() ? "." : folder).generic_string());
  return names;
}

int run_scout(const ScoutArguments& arguments, Streams streams) {
  const CameraArguments& camera = arguments.camera;
  const std::filesystem::path folder = std::filesystem::path(arguments.output).parent_path();
  const Paths outputs = {arguments.output, folder / "scout.html", folder / "scout.jpg", camera.show_move};
  refuse_over_inputs(paths_of({camera.camera, camera.lens, arguments.like, arguments.empty}), outputs);
  refuse_twice(outputs);
  const CameraSource source = read_camera_source(camera);
  std::string text = read_text_file(arguments.like);
  LikeFile like = read_like_to_measure(text, arguments.like);
  const std::vector<std::string> photos = photos_of(arguments, like);
  refuse_over_inputs(paths_of(photos), outputs);
  const std::string& empty_name = arguments.empty.empty() ? like.fixture.empty_photo : arguments.empty;
  refuse_over_inputs(paths_named_by(like.fixture, arguments.like), outputs);
  std::optional<Photo> empty;
  if (!empty_name.empty()) empty = read_photo(empty_name);
  std::vector<PlacedPhoto> placed;
  placed.reserve(photos.size());
  for (const std::string& photo : photos) placed.push_back(placed_photo(photo, source, like.fixture, camera));
  std::vector<ScoutedLoad> loads;
  loads.reserve(placed.size());
  for (const PlacedPhoto& each : placed) loads.push_back({each.photo, each.where.camera, each.where.lens_error_px});
  ScoutOptions options;
  options.empty = empty ? &*empty : nullptr;
  EdgeModelStore models;
  const MeasuredSizes measured = measure_sizes(loads, text, arguments.like, options, models);
  if (!measured.sizes.empty()) {
    text = measured.json_text;
    like = read_like(text, arguments.like);
  }
  const ScoutResult result = scout_photos(loads, like, options, models);
  std::vector<SlotLine> slots;
  for (const ScoutedSlot& each : result.slots)
    slots.push_back({each.slot.id, each.slot.centre_mm, each.slot.axis_deg, each.note});
  const std::string written = with_loads(with_slots(text, slots), seen_from(folder, photos));
  (void)read_fixture(written, arguments.output);  // what is written must be what a check reads
  std::vector<std::string> sizes;
  for (const MeasuredSize& size : measured.sizes)
    sizes.push_back(size_sentence(size, loads.front().camera, result.slots));
  ScoutPageInputs page{
      photos.front(), arguments.output, next_command(arguments, photos.back()), placed.front().where.notes,
      sizes,          version()};
  const std::string picture = scout_picture_jpeg(result, placed.front().photo, placed.front().where.camera);
  write_files({{arguments.output, written},
               {folder / "scout.jpg", picture},
               {folder / "scout.html", scout_html(result, picture, page)}});
  for (const std::string& note : placed.front().where.notes) streams.out << "note: " << terminal_text(note) << "\n";
  for (const std::string& note : result.notes) streams.out << "note: " << terminal_text(note) << "\n";
  streams.out << strayed_files(arguments.like, arguments.output, like.fixture) << slot_table(result);
  if (result.grid) streams.out << grid_text(*result.grid);
  for (const std::string& size : sizes) streams.out << "measured: " << size << "\n";
  streams.out << scout_headline(result) << "\n"
              << "page: " << (folder / "scout.html").string() << "\n"
              << "next: " << page.next_command << "\n";
  return result.has_gaps() ? 1 : 0;
}

}  // namespace

void add_scout_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<ScoutArguments>();
  CLI::App* command = program.add_subcommand("scout", "Find a jig's slots from a photo of it loaded (once per jig)");
  command->description(kScoutHelp);
  command->add_option("photo", arguments->photo, "Photo of the loaded jig");
  add_camera_options(*command, arguments->camera);
  command
      ->add_option("--like", arguments->like,
                   "fixture.json without slots (any are passed over): what the blanks are and how they lie")
      ->required();
  command
      ->add_option(
          "--add", arguments->more,
          "Photo of another load of the same jig, in the same place; may be given more than once. Without a first "
          "photo it is added to those that LIKE.json was scouted from. The more loads, the surer the slots")
      ->allow_extra_args(false);
  command->add_option("--empty", arguments->empty,
                      "Photo of the same jig without blanks (or \"empty_photo\" in LIKE.json): what both show is no "
                      "blank's");
  command->add_option("-o,--output", arguments->output, "fixture.json to write")->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_scout(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
