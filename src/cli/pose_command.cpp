#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/page_beside.hpp"
#include "cli/photo_top.hpp"
#include "cli/pose_arguments.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/calibration/turned_photos.hpp"

#include <cmath>
#include <memory>
#include <optional>

namespace jigtrue::cli {

PoseAnswers answers_of(const PoseArguments& arguments, PhotoTurn by) {
  std::optional<PhotoTop> top = photo_top(arguments.photo_top);
  if (top) top = turned(*top, by);
  return {arguments.unusual, arguments.another_board, top};
}

void refuse_odd_height(const PoseArguments& arguments) {
  const double height_mm = arguments.board_height_mm.value_or(0.0);
  if (!std::isfinite(height_mm) || std::abs(height_mm) > 500.0)
    throw input_error("--board-height", "it must lie within 500 mm of the bed",
                      "give the printed face's height above the bed in mm");
}

void refuse_board_options(const PoseArguments& arguments, const std::string& option) {
  if (!arguments.board.empty() || !arguments.board_at.empty() || arguments.board_height_mm)
    throw input_error(option, "it cannot be combined with --board", "give the board's options or " + option);
}

namespace {

constexpr const char* kPoseHelp =
    R"(Ties the camera to the bed from one photo of marks that the machine itself has burned, or of the checkerboard lying flat on it.
Needed whenever the camera has moved.

First choice, marks: let the machine burn them on a scrap sheet at coordinates of its own (jigtrue target writes the drawing and the
marks' file), photograph the sheet where it lies, and give the file as --marks. The camera is then tied to the beam itself and
nothing is laid by hand. What five marks or more say about the machine (scale along X less Y, squareness) is printed and kept;
check --apply-machine corrects by it. Each axis's own scale shows only against a camera file made from a board without the camera
having moved (--compare).

Second choice, the board laid by hand: what is laid by hand is known to some tenths of a millimetre, and so is every point of the
bed then. Lay it where you know its place: its origin is the outer corner of that black corner square from which, looking at the
print, the long side runs to the right and the short side runs up. Measure with callipers or a rule where that corner lies on the
bed (X, Y from the machine's own zero), how the long side is turned (0 along +X, counter-clockwise from above), how high the printed
face is above the bed, and the squares' size over many of them. --laid-within and --print-within say how well you know that, and
widen every stated uncertainty. A board whose counts are both odd or both even reads several ways: --photo-top says which side of
the bed is at the top of the photo. Of a part of a board --origin-px names besides the printed corner that --board-at speaks of.
The page beside camera.json shows the photo with the bed drawn into it: look at it once.

Further photos after the first: the same board laid flat at other places of the bed, which need not be measured, camera untouched.
They say nothing of where the origin lies, but make the bed's tilt and the camera's height surer: two or three, toward the bed's
corners that the first one left empty, serve best. After a photo of marks they serve too, with --board (no --board-at, for
nothing is measured; --board-height where the print is not on the bed itself): the marks say where the bed lies, the boards how it
is tilted, which a machine's own faults can imitate in marks. The sheet of marks again at another place would repeat the machine's
faults: it is not taken.
Marks stuck to the bed for good (--witness X,Y, to within 3 mm) tell later photos whether the camera still stands there, and three
or more tell now whether the board was declared as it lies.

Example: jigtrue pose fixtures/demo/cameras/attic/pose.jpg --lens lens.json --board 10x7x20 --board-at 78,302,-88 --board-height 3 -o camera.json)";

Paths pose_inputs(const PoseArguments& arguments) {
  Paths inputs = paths_of(arguments.photos);
  for (const std::string& file : {arguments.lens, arguments.marks, arguments.compare, arguments.refit})
    inputs.emplace_back(file);
  return inputs;
}

int run_pose(const PoseArguments& arguments, Streams streams) {
  const std::filesystem::path page = page_beside(arguments.output);
  refuse_over_inputs(pose_inputs(arguments), {arguments.output, page});
  if (!std::isfinite(arguments.page_height_mm) || std::abs(arguments.page_height_mm) > 500.0)
    throw input_error("--page-height", "it must lie within 500 mm of the bed", "give a blank's height in mm");
  if (!arguments.refit.empty()) return pose_again(arguments, page, streams);
  if (arguments.photos.empty())
    throw input_error("pose", "no photo is given", "give the photo of the board, or --refit with a camera file");
  if (arguments.lens.empty()) throw input_error("--lens", "it is missing", "give the lens.json of this camera");
  const LensRecord lens = read_lens_json(read_text_file(arguments.lens), arguments.lens);
  if (!arguments.compare.empty() && arguments.marks.empty())
    throw input_error("--compare", "it needs --marks", "leave it out");
  return arguments.marks.empty() ? pose_by_board(arguments, page, lens, streams)
                                 : pose_by_marks(arguments, page, lens, streams);
}

}  // namespace

void add_pose_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<PoseArguments>();
  CLI::App* command =
      program.add_subcommand("pose", "Tie the camera to the bed, by burned marks or a board (whenever it has moved)");
  command->description(kPoseHelp);
  command->add_option(
      "photos", arguments->photos,
      "Photo of the board flat on the bed, or of the marks; further ones with the board flat elsewhere, to "
      "strengthen the plane");
  command->add_option("--lens", arguments->lens, "lens.json of this camera");
  command->add_option("--board", arguments->board, "Squares and their size in mm, e.g. 10x7x25");
  command->add_option("--board-at", arguments->board_at,
                      "X,Y,ANGLE: where the board's origin lies on the bed, how its +X is turned");
  command->add_option("--board-height", arguments->board_height_mm,
                      "Height of the printed face above the bed, mm: needed with --board-at");
  command->add_option("--laid-within", arguments->laid_within_mm,
                      "With --board-at: how far the board's corners may lie from there, mm (95 %); widens every "
                      "stated uncertainty");
  command->add_option("--print-within", arguments->print_within_percent,
                      "With --board-at: how far the squares' size may be off, percent (95 %); the same");
  command->add_flag("--another-board", arguments->another_board,
                    "The board is not the one that the lens's photos showed");
  command->add_flag("--unusual", arguments->unusual,
                    "A board or a camera's place as no shop has it is meant: do not ask");
  command->add_option("--marks", arguments->marks,
                      "marks.json: marks burned at known places, instead of a board at one");
  add_photo_top(*command, arguments->photo_top,
                "back, front, left or right: the side of the bed at the top of the photo. Needed when the board "
                "or the marks look the same from several sides; else it is checked against the rest");
  command->add_option("--origin-px", arguments->origin_px,
                      "PX,PY: a pixel near the printed corner whose place --board-at says; needed when only a part of "
                      "the board is in view");
  command->add_option("--compare", arguments->compare,
                      "camera.json by a board, camera unmoved: then the marks tell the machine's scale");
  command->add_option("--witness", arguments->witness, "X,Y of a mark stuck to the bed for good (repeatable)")
      ->allow_extra_args(true);
  command->add_option("--refit", arguments->refit,
                      "camera.json whose kept corners or marks are fitted once more, through --lens where given");
  command->add_option("--page-height", arguments->page_height_mm,
                      "Height above the bed of the page's second map, mm (14): that of your blanks' crowns");
  command->add_option("-o,--output", arguments->output, "Where to write camera.json; its page goes beside it")
      ->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_pose(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
