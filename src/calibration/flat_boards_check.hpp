// Whether photos of boards, each fitted alone, can show boards that lie flat on one bed under a still camera. Internal.
#pragma once
#include <string>
#include <vector>

#include "calibration/flat_boards.hpp"

namespace jigtrue {

// Sheets and beds are no flatter than this; what so small a step does to the fit shows in its residuals, which widen
// the covariance.
inline constexpr double kHarmlessLift_mm = 0.2;

// A board's pose, fitted alone, with what moves it.
struct MovedPose {
  Eigen::Matrix<double, 6, 6>
      covariance;  // by the errors of its corners, and by what the lens model misses the lens by
  Eigen::Matrix<double, 6, Eigen::Dynamic> by_lens;
};
[[nodiscard]] MovedPose moved_by(const LensRecord& lens, const BoardPoints& points, const ViewPose& pose);

[[nodiscard]] Vector3d middle_of(const BoardPoints& points);

// How one board's plane lies against another's, as their photos see them.
struct PlaneStep {
  double tilt_rad = 0.0;
  double rise_mm = 0.0;     // of the second board's middle above the first one's plane, towards the camera
  double lift_mm = 0.0;     // largest distance of its corners from that plane
  double chi_square = 0.0;  // of two tilts and the rise by their joint covariance: three degrees of freedom
};
[[nodiscard]] PlaneStep plane_step(const LensRecord& lens, const BoardPoints& first, const ViewPose& first_pose,
                                   const BoardPoints& second, const ViewPose& second_pose);

// Empty when they can; otherwise one line that names the photo, what is wrong there and what to do.
[[nodiscard]] std::string contradiction(const LensRecord& lens, const std::vector<std::string>& files,
                                        const std::vector<BoardPoints>& boards, const std::vector<ViewPose>& alone);

}  // namespace jigtrue
