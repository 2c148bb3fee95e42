#include "cli/numbers.hpp"
#include "cli/pose_output.hpp"
#include "cli/pose_photos.hpp"
#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/calibration/declared_slips.hpp"
#include "jigtrue/calibration/laid_board.hpp"

#include <cmath>
#include <optional>
#include <utility>

namespace jigtrue::cli {
namespace {

PoseFit pose_by_boards(const LensRecord& lens, const std::vector<BoardPhoto>& photos, const BoardPlacement& placement) {
  Outcome<PoseFit> pose = fit_pose_to_boards(lens, flat_boards(photos), placement);
  if (!pose) throw InputError("", pose.failure());
  return std::move(pose).value();
}

void refuse_odd_tolerances(const PoseArguments& arguments) {
  if (!(arguments.laid_within_mm >= 0.0 && arguments.laid_within_mm <= 50.0))
    throw input_error("--laid-within", "it must lie between 0 and 50 mm",
                      "give how far from --board-at the board's corners may lie");
  if (!(arguments.print_within_percent >= 0.0 && arguments.print_within_percent <= 10.0))
    throw input_error("--print-within", "it must lie between 0 and 10 %",
                      "give how far the squares' size may be off, in percent");
}

// Renumbers the first photo's corners in the frame that --board-at speaks of.
void lay_first(const PoseArguments& arguments, const LensRecord& lens, const BoardPlacement& placement,
               BoardPhoto& first) {
  BoardHints hints;
  hints.top = answers_of(arguments, first.turn).top;
  if (!arguments.origin_px.empty()) {
    const auto px = numbers("--origin-px", arguments.origin_px, 2, "PX,PY");
    const bool exchanged = first.turn == PhotoTurn::quarter || first.turn == PhotoTurn::three_quarters;
    const int width_px = first.photo.width_px();
    const int height_px = first.photo.height_px();
    hints.origin_px =
        turned(Vector2d(px[0], px[1]), exchanged ? height_px : width_px, exchanged ? width_px : height_px, first.turn);
  }
  auto laid = lay_board(lens, first.flat.corners, placement, hints);
  if (!laid) throw input_error(first.flat.file, laid.reason());
  first.flat.corners = std::move(laid).value();
}

void read_board_options(const PoseArguments& arguments, CameraFileNotes& notes) {
  if (arguments.board.empty() || arguments.board_at.empty())
    throw input_error(arguments.board.empty() ? "--board" : "--board-at", "it is missing",
                      "give --board, --board-at and --board-height, or --marks");
  notes.board = parse_board_spec(arguments.board);
  const auto at = numbers("--board-at", arguments.board_at, 3, "X,Y,ANGLE");
  if (!arguments.board_height_mm)
    throw input_error(
        "--board-height", "it is missing",
        "give the printed face's height above the bed in mm: what the board is thick, and what lies under "
        "it; 0 for a sheet of paper on the bed itself");
  BoardPlacement placement;
  placement.x_mm = at[0];
  placement.y_mm = at[1];
  placement.angle_deg = at[2];
  refuse_odd_height(arguments);
  placement.height_mm = *arguments.board_height_mm;
  refuse_odd_tolerances(arguments);
  // the origin's corner and the far end of the long side, each to within laid_within_mm
  const double long_side_mm = notes.board->columns * notes.board->square_mm;
  placement.xy_sigma_mm = arguments.laid_within_mm / kCoverageFactor95;
  placement.angle_sigma_deg = deg_from_rad(std::sqrt(2.0) * placement.xy_sigma_mm / long_side_mm);
  placement.scale_sigma = arguments.print_within_percent / 100.0 / kCoverageFactor95;
  notes.placement = placement;
}

}  // namespace

int pose_by_board(const PoseArguments& arguments, const std::filesystem::path& page, const LensRecord& lens,
                  Streams streams) {
  CameraFileNotes notes;
  notes.photo = arguments.photos.front();
  notes.lens_file = arguments.lens;
  read_board_options(arguments, notes);
  refuse_odd_board(answers_of(arguments), lens, *notes.board);
  std::vector<BoardPhoto> photos;
  std::vector<std::string> turns;
  for (const std::string& file : arguments.photos) photos.push_back(read_board_photo(file, lens, *notes.board, turns));
  lay_first(arguments, lens, *notes.placement, photos.front());
  PoseFit pose = pose_by_boards(lens, photos, *notes.placement);
  pose.notes.insert(pose.notes.end(), turns.begin(), turns.end());
  add_questions(arguments, photos.front().flat.file, photos.front().turn, lens, notes.placement, pose);
  const std::vector<WitnessMark> witness = witness_marks(arguments, notes, photos.front().photo, pose, streams);
  if (const std::string unchecked = unchecked_laying(pose.camera, *notes.placement, witness.size()); !unchecked.empty())
    pose.notes.push_back(unchecked);
  notes.created = time_now();
  notes.software = software_name();
  const std::string json = camera_json(pose, lens, witness, notes);
  if (!witness.empty())
    refuse_moved_between(photos.front().flat.file, {photos.begin() + 1, photos.end()},
                         read_camera_json(json, arguments.output));
  write_pose(arguments, page, pose, json,
             count_of(arguments.photos) + ", board " + arguments.board + " at " + arguments.board_at, notes,
             &photos.front().photo);
  print_pose(lens, pose, false, streams);
  print_files(arguments, page, streams);
  return 0;
}

}  // namespace jigtrue::cli
