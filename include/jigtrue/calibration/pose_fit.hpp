// Photos of something at a known place on the bed + a lens -> a camera above its bed, with the joint covariance.
//
// The pose is fitted with the lens held fixed; that the lens itself is uncertain shifts the pose by
// d pose / d lens = -(Jp^T W Jp)^-1 Jp^T W Jl (implicit function theorem), which couples the two in the covariance:
// where the photo pinned the bed down, errors of lens and pose cancel.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/calibration/lens_file.hpp"
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/image/board.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// Where the board's origin lies on the bed, how its +X is turned (counter-clockwise from the bed's +X), how high its
// printed face is. The sigmas say how well that is known; all of them move the bed frame, not the fit.
struct BoardPlacement {
  double x_mm = 0.0;
  double y_mm = 0.0;
  double angle_deg = 0.0;
  double height_mm = 0.0;
  double xy_sigma_mm = 0.0;
  double angle_sigma_deg = 0.0;
  double height_sigma_mm = 0.0;
  double scale_sigma = 0.0;  // of the square's size, relative
};
[[nodiscard]] Rigid bed_from_board(const BoardPlacement& placement);

// A further photo's board, where the fit found it on the bed: of no use but to strengthen the plane.
struct FoundBoard {
  std::string file;
  double x_mm = 0.0;
  double y_mm = 0.0;
  double angle_deg = 0.0;
  double rms_px = 0.0;
  BoardCorners corners;
};

struct PoseFit {
  Camera camera;                       // with its covariance
  double rms_px = 0.0;                 // distance, per point
  double sigma0_px = 0.0;              // one axis, from the residuals
  std::vector<FoundBoard> further;     // in the order given; their points follow the first photo's below
  std::vector<GridPlace> places;       // whose corner each of the first photo's is; empty: all of them, in order
  std::vector<Vector3d> points_mm;     // bed frame
  std::vector<Vector2d> px;            // where they were seen
  std::vector<Vector2d> residuals_px;  // seen less predicted
  std::vector<std::string> notes;      // whole sentences for the user

  // How many of the points are the first photo's.
  [[nodiscard]] std::size_t first_count() const {
    std::size_t count = points_mm.size();
    for (const FoundBoard& board : further) count -= board.corners.px.size();
    return count;
  }
};

// Fails with a reason: another picture size than the lens's, a board seen from behind, a photo that fits clearly better
// when it is mirrored (the board itself looks the same in a mirror; the lens does not, unless it is centred to a few
// tenths of a pixel and without tangential terms: marks on the bed tell then), a residual far above the lens's own
// (another lens, another zoom, a bent board), a camera that does not look down. The board that gave the lens is taken
// in the shape that the lens's photos showed (LensRecord::board_shape), the bow only where it fits better than none.
[[nodiscard]] Outcome<PoseFit> fit_pose_to_board(const LensRecord& lens, const BoardCorners& corners, int width_px,
                                                 int height_px, const BoardPlacement& placement);

// A photo of the board lying flat on the bed.
struct FlatBoardPhoto {
  std::string file;  // named in reasons
  int width_px = 0;
  int height_px = 0;
  BoardCorners corners;
};
// The same from several photos under a camera that does not move: the first one's board lies at `placement`, the same
// board in each further one flat at the same height, anywhere, turned anyhow. One pose and each further board's place
// (x, y, turn) are fitted together. Further boards say nothing of where the bed's origin lies, but where its plane
// lies. A photo in which the board lies in another plane (not flat, another board, the camera moved), beyond what the
// corners' and the lens's errors explain, is named and nothing is fitted; so is one whose board lies where another's
// lies. A camera that is only shifted along the bed or turned about its normal between photos is harmless: the further
// board's place takes it up.
[[nodiscard]] Outcome<PoseFit> fit_pose_to_boards(const LensRecord& lens, const std::vector<FlatBoardPhoto>& photos,
                                                  const BoardPlacement& placement);

// A mark's centre at a known place on the bed.
struct PlacedMark {
  Vector3d bed_mm = Vector3d::Zero();
  Vector2d px = Vector2d::Zero();
  double sigma_px = 0.1;  // one axis
};
struct MarkPlacement {
  double sigma_mm = 0.0;  // one axis, of each mark's place: widens each mark's weight and the pose's covariance
};
// Fails also with fewer than four marks, marks in (nearly) a line, or two poses that fit the marks alike.
[[nodiscard]] Outcome<PoseFit> fit_pose_to_marks(const LensRecord& lens, const std::vector<PlacedMark>& marks,
                                                 int width_px, int height_px, const MarkPlacement& placement = {});

}  // namespace jigtrue
