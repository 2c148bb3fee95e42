// The pose of one flat body in one photo, and what speaks against it. Internal.
#pragma once
#include "jigtrue/calibration/lens_file.hpp"
#include "jigtrue/calibration/view_pose.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// No photo shows corners better than this.
inline constexpr double kLeastNoise_px = 0.01;

struct BestPose {
  ViewPose best;
  double second_cost_ratio = 0.0;  // cost of the other tilt's pose over the best one's; 0 when there is no other
};
// points: any body with a nearly flat set of points. least_cost: what noise alone would leave, in units of sigma.
[[nodiscard]] Outcome<BestPose> best_pose(const Lens& lens, const std::vector<SeenPoint>& points, double least_cost);

// Empty when there is nothing to say against it; otherwise the reason.
[[nodiscard]] std::string size_mismatch(const LensRecord& lens, int width_px, int height_px);
// expected_px: what the points' own uncertainty explains, rms of the distance.
[[nodiscard]] std::string residual_refusal(double rms_px, double expected_px, const LensRecord& lens);

// camera_from_board of a board alone, all corners weighing alike; `points` in the order of its corners. Fails with a
// reason: another picture size, seen from behind, mirrored, two poses alike, residuals far above the lens's own.
[[nodiscard]] Outcome<ViewPose> board_pose(const LensRecord& lens, const std::vector<SeenPoint>& points,
                                           const BoardSpec& board, int width_px, int height_px);

}  // namespace jigtrue
