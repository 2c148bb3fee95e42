// Photos of a board laid flat, each looked at alone, and the sheet's shape that they are taken with. Internal.
#pragma once
#include "jigtrue/calibration/pose_fit.hpp"

#include <string>
#include <vector>

#include "calibration/flat_boards.hpp"

namespace jigtrue {

// The corners on the sheet as it is taken to be, and every photo's pose alone.
struct SeenBoards {
  std::vector<BoardPoints> boards;
  std::vector<ViewPose> alone;
  std::string note;
};

// The sheet that gave the lens is taken with the print's scales found there. Its bow may be gone on the bed: whichever
// fits these photos better counts. Fails, naming the photo, as board_pose does.
[[nodiscard]] Outcome<SeenBoards> seen_boards(const LensRecord& lens, const std::vector<FlatBoardPhoto>& photos);

// What photos of boards take over as known, in this order: the lens's parameters and, where the sheet is not taken as
// flat and square, the three of its shape.
[[nodiscard]] MatrixXd known_covariance(const LensRecord& lens, bool shaped);

}  // namespace jigtrue
