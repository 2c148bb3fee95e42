#include "calibration/plane_sigma.hpp"

#include <cmath>

#include "calibration/format.hpp"

namespace jigtrue {

PlaneSigma plane_sigma(const MatrixXd& joint, const Rigid& camera_from_bed) {
  const Matrix3d back = camera_from_bed.rotation.transpose();
  const Eigen::Matrix<double, 6, 6> pose = joint.bottomRightCorner<6, 6>();
  const Matrix3d turn = back * pose.topLeftCorner<3, 3>() * back.transpose();
  // centre = -R^T t, and a turn by d on the left of R moves it by R^T (d x t)
  Eigen::Matrix<double, 1, 6> height;
  height << -back.row(2) * cross_matrix(camera_from_bed.translation), -back.row(2);
  return {std::sqrt(0.5 * (turn(0, 0) + turn(1, 1))), std::sqrt((height * pose * height.transpose()).value())};
}

std::string gain_note(const char* first, std::size_t further, const PlaneSigma& before, const PlaneSigma& all) {
  return format(
      "the bed's tilt is known to %.4f degrees and the camera's height to %.3f mm (one sigma) from %zu "
      "photos; from %s they would be %.4f degrees and %.3f mm",
      deg_from_rad(all.tilt_rad), all.height_mm, further + 1, first, deg_from_rad(before.tilt_rad), before.height_mm);
}

}  // namespace jigtrue
