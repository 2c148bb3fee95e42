#include "cli/commands.hpp"
#include "cli/numbers.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/witness.hpp"
#include "jigtrue/image/read_photo.hpp"

#include <cmath>
#include <cstdio>

namespace jigtrue::cli {
namespace {

struct PoseArguments {
  std::string photo;
  std::string lens;
  std::string board;
  std::string board_at;
  double board_height_mm = 0.0;
  std::vector<std::string> witness;
  std::string output;
};

constexpr const char* kHelp =
    "Ties the camera to the bed from one photo of the checkerboard lying flat on it. Needed whenever the camera has "
    "moved.\n"
    "\n"
    "Lay the board where you know its place: its origin is the outer corner of that black corner square from which, "
    "looking at the\n"
    "print, the long side runs to the right and the short side runs up. Measure with callipers or a rule where that "
    "corner lies on the\n"
    "bed (X, Y from the machine's own zero), how the long side is turned (0 along +X), and how high the printed face "
    "is above the bed.\n"
    "Marks stuck to the bed for good (--witness X,Y, to within 3 mm) tell later photos whether the camera still stands "
    "there.\n"
    "\n"
    "Example: jigtrue pose fixtures/demo/pose.jpg --lens lens.json --board 10x7x25 --board-at 80,110,0 --board-height "
    "3 -o camera.json";

std::vector<WitnessMark> witness_marks(const PoseArguments& arguments, const Photo& photo, const Camera& camera,
                                       Streams streams) {
  std::vector<Vector2d> nominal;
  for (const std::string& text : arguments.witness) {
    const auto xy = numbers("--witness", text, 2, "X,Y");
    nominal.emplace_back(xy[0], xy[1]);
    for (std::size_t i = 0; i + 1 < nominal.size(); ++i)
      if ((nominal[i] - nominal.back()).norm() < 2.0 * kWitnessSearch_mm)
        throw input_error("--witness " + text, "another witness mark is declared within 6 mm of it",
                          "give each mark once");
  }
  std::vector<WitnessMark> marks;
  for (const WitnessSighting& sighting : find_witness_marks(photo.luma, camera, nominal)) {
    char place[64];
    std::snprintf(place, sizeof place, "%g,%g", sighting.nominal_mm.x(), sighting.nominal_mm.y());
    if (!sighting.mark.ok())
      throw input_error(arguments.photo,
                        "no witness mark at " + std::string(place) + " (" + sighting.mark.reason() + ")",
                        "stick it there, free its view, or leave that --witness out");
    marks.push_back(*sighting.mark);
    char line[128];
    std::snprintf(line, sizeof line, "witness mark %s seen at (%.2f, %.2f) px\n", place, marks.back().px.x(),
                  marks.back().px.y());
    streams.out << line;
  }
  return marks;
}

int run_pose(const PoseArguments& arguments, Streams streams) {
  const LensRecord lens = read_lens_json(read_text_file(arguments.lens), arguments.lens);
  const BoardSpec board = parse_board_spec(arguments.board);
  const auto at = numbers("--board-at", arguments.board_at, 3, "X,Y,ANGLE");
  BoardPlacement placement;
  placement.x_mm = at[0];
  placement.y_mm = at[1];
  placement.angle_deg = at[2];
  placement.height_mm = arguments.board_height_mm;
  if (!std::isfinite(placement.height_mm) || std::abs(placement.height_mm) > 500.0)
    throw input_error("--board-height", "it must lie within 500 mm of the bed",
                      "give the printed face's height above the bed in mm");
  const Photo photo = read_photo(arguments.photo, PhotoColour::luma_only);
  const auto corners = find_board(photo.luma, board);
  if (!corners)
    throw input_error(arguments.photo, corners.reason(), "show the whole board, flat, sharp and evenly lit");
  const auto pose = fit_pose_to_board(lens, *corners, photo.width_px(), photo.height_px(), placement);
  if (!pose) throw input_error(arguments.photo, pose.reason());
  const std::vector<WitnessMark> witness = witness_marks(arguments, photo, pose->camera, streams);

  CameraFileNotes notes;
  notes.photo = arguments.photo;
  notes.lens_file = arguments.lens;
  notes.board = board;
  notes.placement = placement;
  notes.created = time_now();
  notes.software = software_name();
  write_files({{arguments.output, camera_json(*pose, lens, witness, notes)}});

  const Vector3d centre = pose->camera.centre_mm();
  char line[256];
  std::snprintf(line, sizeof line,
                "board fits to %.3f px (rms); the camera stands %.0f mm above the bed over (%.0f, %.0f)\n",
                pose->rms_px, centre.z(), centre.x(), centre.y());
  streams.out << line;
  for (const std::string& note : pose->notes) streams.out << "note: " << note << "\n";
  streams.out << "wrote " << arguments.output << "\n";
  return 0;
}

}  // namespace

void add_pose_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<PoseArguments>();
  CLI::App* command = program.add_subcommand("pose", "Tie the camera to the bed (whenever it has moved)");
  command->description(kHelp);
  command->add_option("photo", arguments->photo, "Photo of the board flat on the bed")->required();
  command->add_option("--lens", arguments->lens, "lens.json of this camera")->required();
  command->add_option("--board", arguments->board, "Squares and their size in mm, e.g. 10x7x25")->required();
  command
      ->add_option("--board-at", arguments->board_at,
                   "X,Y,ANGLE: where the board's origin lies on the bed, how its +X is turned")
      ->required();
  command->add_option("--board-height", arguments->board_height_mm, "Height of the printed face above the bed, mm");
  command->add_option("--witness", arguments->witness, "X,Y of a mark stuck to the bed for good (repeatable)")
      ->allow_extra_args(true);
  command->add_option("-o,--output", arguments->output, "Where to write camera.json")->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_pose(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
