#include "cli/pose_questions.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/calibration/declared_slips.hpp"

#include <cmath>
#include <cstdio>

namespace jigtrue::cli {

void refuse_odd_board(const PoseAnswers& answers, const LensRecord& lens, const BoardSpec& board) {
  char text[64];
  std::snprintf(text, sizeof text, "--board %dx%dx%g", board.columns, board.rows, board.square_mm);
  if (const std::string question = board_question(board); !question.empty() && !answers.unusual)
    throw input_error(text, question, "give the squares' size in mm, or --unusual if it is so");
  if (const std::string other = other_board(lens, board); !other.empty() && !answers.another_board)
    throw input_error(
        text, other,
        "give that board's counts (of squares, not corners) and size, or --another-board if it is another sheet");
}

std::vector<std::string> question_camera(const PoseAnswers& answers, const std::string& file, const LensRecord& lens,
                                         const PoseFit& pose, const std::optional<BoardPlacement>& placement) {
  const Camera& camera = pose.camera;
  if (const std::string question = camera_question(camera); !question.empty() && !answers.unusual)
    throw input_error(file, question, "mend what was declared, or give --unusual if the camera stands so");
  const PhotoStand stand = photo_stand(camera);
  if (answers.top && *answers.top != stand.top) {
    std::string remedy = "measure again how the board lies";
    if (placement) {
      char text[160];
      std::snprintf(
          text, sizeof text,
          "check --board-at's turn of %g degrees, counter-clockwise seen from above and of the long side, and "
          "which corner is the board's origin",
          placement->angle_deg);
      remedy = text;
    }
    throw input_error("--photo-top",
                      std::string("as declared, the top of the photo shows the bed's ") + to_string(stand.top) +
                          ", not its " + to_string(*answers.top),
                      remedy);
  }
  std::vector<std::string> questions = lens_questions(lens.lens, lens.covariance);
  if (placement && !answers.top)
    if (const std::string question = turn_question(camera, *placement); !question.empty())
      questions.push_back(question);
  if (placement)
    if (const std::string question = outside_question(pose.points_mm); !question.empty()) questions.push_back(question);
  return questions;
}

std::string stand_line(const Camera& camera) {
  const PhotoStand stand = photo_stand(camera);
  char text[160];
  std::snprintf(text, sizeof text, "the top of the photo shows the bed's %s%s\n", to_string(stand.top),
                std::abs(stand.turn_deg) < 0.5 ? "" : ", turned");
  std::string line = text;
  if (std::abs(stand.turn_deg) < 0.5) return line;
  std::snprintf(text, sizeof text, " by %.1f degrees\n", std::abs(stand.turn_deg));
  line.replace(line.size() - 1, 1, text);
  return line;
}

std::string slip_by_marks(const Photo& photo, const PoseFit& pose, const BoardSpec& board,
                          const BoardPlacement& placement, const std::vector<Vector2d>& nominal_mm) {
  const std::vector<Vector3d> first(pose.points_mm.begin(),
                                    pose.points_mm.begin() + static_cast<std::ptrdiff_t>(pose.first_count()));
  const auto other = placement_by_marks(photo.luma, pose.camera, placement, first, nominal_mm);
  if (!other) return {};
  char text[300];
  std::snprintf(
      text, sizeof text,
      "; %d marks that the photo shows would stand where they were said to with --board %dx%dx%.4g --board-at "
      "%.1f,%.1f,%.1f",
      other->marks, board.columns, board.rows, board.square_mm * other->square_ratio, other->placement.x_mm,
      other->placement.y_mm, other->placement.angle_deg);
  return text;
}

}  // namespace jigtrue::cli
