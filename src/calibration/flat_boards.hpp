// Boards lying flat on one bed under a camera that does not move: one photo each, one pose for all. Internal.
#pragma once
#include "jigtrue/calibration/lens_file.hpp"
#include "jigtrue/calibration/view_pose.hpp"

#include <string>
#include <vector>

#include "calibration/corner_noise.hpp"

namespace jigtrue {

// One photo's corners in the board frame.
struct BoardPoints {
  std::vector<SeenPoint> seen;     // as the sheet really is
  std::vector<Matrix3d> by_shape;  // d mm / d (stretch, bow_x, bow_y); empty where the sheet counts as flat and square
};

// A board's place on the plane of the first one, in the first one's frame.
struct BoardPlace {
  double x_mm = 0.0;
  double y_mm = 0.0;
  double turn_rad = 0.0;
};
[[nodiscard]] Rigid first_from_board(const BoardPlace& place);

struct FlatBoards {
  Rigid camera_from_board;                          // of the first board
  std::vector<BoardPlace> places;                   // of every board; the first one's is the origin
  std::vector<std::vector<Vector2d>> residuals_px;  // of every photo: seen less predicted
  MatrixXd covariance;                              // joint, of [lens, camera_from_board]
  double rms_px = 0.0;                              // distance, per corner
  double sigma0_px = 0.0;                           // one axis
};
// `alone`: every photo's own camera_from_board (board_pose). Fails when the corners do not determine the pose.
[[nodiscard]] Outcome<FlatBoards> fit_flat_boards(const LensRecord& lens, const std::vector<BoardPoints>& boards,
                                                  const std::vector<ViewPose>& alone);

// A photo of one board as it was fitted: by the pose, by the board's own place on the plane, by the lens.
struct FlatView {
  FittedView view;  // by_shared: the pose; by_pose: the place (x, y, turn)
  MatrixXd by_lens;
  MatrixXd by_shape;  // of the sheet; no columns where it counts as flat and square
  double squares_px2 = 0.0;
};
[[nodiscard]] Outcome<FlatView> flat_view(const Lens& lens, const Rigid& camera_from_first, const BoardPlace& place,
                                          const BoardPoints& points);

}  // namespace jigtrue
