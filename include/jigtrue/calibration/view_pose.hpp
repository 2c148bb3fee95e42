// The pose of known points seen through a known lens.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/camera/lens.hpp"
#include "jigtrue/geometry/rigid.hpp"
#include "jigtrue/image/board.hpp"

#include <vector>

namespace jigtrue {

// A point of a known body and where it is seen.
struct SeenPoint {
  Vector3d mm = Vector3d::Zero();  // the body's frame
  Vector2d px = Vector2d::Zero();
  double sigma_px = 1.0;  // one axis; only the ratios matter to the fit
};

// A board's corners in the frame of their places, in their own order.
[[nodiscard]] std::vector<SeenPoint> board_points(const BoardCorners& corners);

// A first pose of points on the plane z = 0 from their sight rays, by the homography between the two (direct linear
// transformation, Hartley & Zisserman 2004, ch. 4 and 8.1). Works beyond 90 degrees too. Fails with fewer than four
// points, points in a line, or rays outside the lens's domain.
[[nodiscard]] Outcome<Rigid> plane_pose_from_rays(const Lens& lens, const std::vector<SeenPoint>& points);

struct ViewPose {
  Rigid camera_from_body;
  double rms_px = 0.0;                 // root mean square of the distance, per point
  double sigma0 = 0.0;                 // residuals over sigma_px: 1 when these are right; 0 with fewer than four points
  Eigen::Matrix<double, 6, 6> normal;  // J^T W J by rotation vector (left of the rotation), translation
  Eigen::Matrix<double, 6, Eigen::Dynamic> by_lens_normal;  // J_pose^T W J_lens
  MatrixXd by_pose;                    // d px / d pose: rows x of every point, then y of every point; unweighted
  std::vector<Vector2d> residuals_px;  // seen less predicted
};

// Weighted least squares from a first pose; cauchy_px > 0 makes it robust with that scale.
[[nodiscard]] Outcome<ViewPose> refine_pose(const Lens& lens, const std::vector<SeenPoint>& points, const Rigid& start,
                                            double cauchy_px = 0.0, int max_iterations = 100);

}  // namespace jigtrue
