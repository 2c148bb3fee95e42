// What the pose command asks about declarations that cannot be right, or hardly.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/match_marks.hpp"
#include "jigtrue/image/photo.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue::cli {

struct PoseAnswers {
  bool unusual = false;        // --unusual: what no shop has is so
  bool another_board = false;  // --another-board: than the lens's photos showed
  std::optional<PhotoTop> top;
};

// Before the photo is read. Throws InputError.
void refuse_odd_board(const PoseAnswers& answers, const LensRecord& lens, const BoardSpec& board);
// Once the camera is placed. Throws InputError; what is only doubtful comes back as sentences.
[[nodiscard]] std::vector<std::string> question_camera(const PoseAnswers& answers, const std::string& file,
                                                       const LensRecord& lens, const PoseFit& pose,
                                                       const std::optional<BoardPlacement>& placement);

// "the top of the photo shows the bed's back, turned by 3.2 degrees"
[[nodiscard]] std::string stand_line(const Camera& camera);

// What may be wrong with the board's place and size when the bed's marks are not where they were said to be; empty when
// nothing explains them.
[[nodiscard]] std::string slip_by_marks(const Photo& photo, const PoseFit& pose, const BoardSpec& board,
                                        const BoardPlacement& placement, const std::vector<Vector2d>& nominal_mm);

}  // namespace jigtrue::cli
