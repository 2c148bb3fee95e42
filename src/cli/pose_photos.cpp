#include "cli/pose_photos.hpp"

#include "cli/numbers.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/calibration/camera_drift.hpp"
#include "jigtrue/calibration/declared_slips.hpp"
#include "jigtrue/calibration/focal_length.hpp"
#include "jigtrue/calibration/witness.hpp"
#include "jigtrue/image/read_photo.hpp"

#include <cstdio>
#include <optional>
#include <utility>

namespace jigtrue::cli {
namespace {

std::string board_remedy(FailureCode code) {
  if (code == FailureCode::another_board)
    return "count squares, not corners, along both sides, and give those as --board";
  if (code == FailureCode::part_of_board)
    return "show the whole board, or count its squares, not corners, along both sides and give those as --board";
  return "show the whole board, flat, sharp and evenly lit";
}

}  // namespace

std::vector<WitnessMark> witness_marks(const PoseArguments& arguments, const CameraFileNotes& notes, const Photo& photo,
                                       PoseFit& pose, Streams streams) {
  std::vector<Vector2d> nominal;
  std::vector<Vector2d> measured;
  for (const std::string& text : arguments.witness) {
    const auto xy = numbers("--witness", text, 2, "X,Y");
    nominal.emplace_back(xy[0], xy[1]);
    for (std::size_t i = 0; i + 1 < nominal.size(); ++i)
      if ((nominal[i] - nominal.back()).norm() < 2.0 * kWitnessSearch_mm)
        throw input_error("--witness " + text, "another witness mark is declared within 6 mm of it",
                          "give each mark once");
  }
  std::vector<WitnessMark> marks;
  for (const WitnessSighting& sighting : find_witness_marks(photo.luma, pose.camera, nominal)) {
    char place[64];
    std::snprintf(place, sizeof place, "%g,%g", sighting.nominal_mm.x(), sighting.nominal_mm.y());
    if (!sighting.mark.ok())
      throw input_error(
          arguments.photos.front(),
          "no witness mark at " + std::string(place) + " (" + sighting.mark.reason() + ")" +
              (notes.placement ? slip_by_marks(photo, pose, *notes.board, *notes.placement, nominal) : std::string()),
          "stick it there, free its view, check that the photo is not mirrored, or leave that --witness out");
    marks.push_back(*sighting.mark);
    char line[128];
    std::snprintf(line, sizeof line, "witness mark %s seen at (%.2f, %.2f) px\n", place, marks.back().px.x(),
                  marks.back().px.y());
    streams.out << line;
    if (const auto bed = bed_point_at(pose.camera, marks.back().px, 0.0)) measured.push_back(bed->mm);
  }
  if (const auto scale = scale_by_marks(nominal, measured);
      scale && notes.placement && measured.size() == nominal.size())
    if (const std::string question = scale_question(*scale); !question.empty())
      pose.notes.insert(pose.notes.begin(), question);
  return marks;
}

Photo read_lying_alike(const std::string& file, const LensRecord& lens, std::vector<std::string>& notes,
                       PhotoTurn& by) {
  Photo photo = read_photo(file, PhotoColour::luma_only);
  if (const auto other = other_focal_length(photo, lens))
    notes.push_back(file + ": " + other->text + "; " + other->remedy + ".");
  by = turn_between(photo.orientation, lens.orientation);
  if (by == PhotoTurn::none) return photo;
  notes.push_back(turn_note(file, by, "its orientation tag says otherwise, but the lens was not turned"));
  return turned(std::move(photo), by);
}

BoardPhoto read_board_photo(const std::string& file, const LensRecord& lens, const BoardSpec& board,
                            std::vector<std::string>& notes) {
  BoardPhoto read;
  read.photo = read_lying_alike(file, lens, notes, read.turn);
  auto corners = find_board(read.photo.luma, board);
  if (!corners) throw input_error(file, corners.reason(), board_remedy(corners.failure().code));
  const auto by = turn_to_fit(lens, *corners, read.photo.width_px(), read.photo.height_px());
  if (by && *by != PhotoTurn::none) {
    turn(*corners, read.photo.width_px(), read.photo.height_px(), *by);
    read.photo = turned(std::move(read.photo), *by);
    read.turn = after(read.turn, *by);
    notes.push_back(turn_note(file, *by, "so its board fits the lens, as it is it does not"));
  }
  read.flat = {file, read.photo.width_px(), read.photo.height_px(), std::move(*corners)};
  return read;
}

std::vector<FlatBoardPhoto> flat_boards(const std::vector<BoardPhoto>& photos) {
  std::vector<FlatBoardPhoto> flat;
  flat.reserve(photos.size());
  for (const BoardPhoto& photo : photos) flat.push_back(photo.flat);
  return flat;
}

void refuse_moved_between(const std::string& first, const std::vector<BoardPhoto>& further,
                          const CameraRecord& record) {
  for (const BoardPhoto& photo : further) {
    const CameraDrift drift = watch_camera(photo.photo.luma, record);
    if (drift.stand == CameraStand::moved)
      throw input_error(
          photo.flat.file,
          "the witness marks are not where they are in " + first + ": the camera has moved between the two",
          "take all photos anew without touching it, or leave this one out");
  }
}

void add_questions(const PoseArguments& arguments, const std::string& file, PhotoTurn by, const LensRecord& lens,
                   const std::optional<BoardPlacement>& placement, PoseFit& pose) {
  const auto questions = question_camera(answers_of(arguments, by), file, lens, pose, placement);
  pose.notes.insert(pose.notes.begin(), questions.begin(), questions.end());
}

}  // namespace jigtrue::cli
