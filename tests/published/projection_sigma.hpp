// A second derivation of a lens fit's covariance, and of what it means for the picture.
#pragma once
#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/products.hpp"
#include "jigtrue/calibration/lens_fit.hpp"

#include <cmath>

#include <Eigen/Dense>

namespace jigtrue::published {

// The whole Jacobian of a fit, written out plainly: lens parameters, then six a photo.
inline MatrixXd whole_jacobian(const LensFit& fit) {
  const Eigen::Index n = fit.lens.parameters.size();
  MatrixXd j = MatrixXd::Zero(2 * static_cast<Eigen::Index>(fit.corner_count),
                              n + 6 * static_cast<Eigen::Index>(fit.photos.size()));
  Eigen::Index row = 0;
  for (std::size_t i = 0; i < fit.photos.size(); ++i) {
    const Rigid& pose = fit.photos[i].camera_from_board;
    const Eigen::Index column = n + 6 * static_cast<Eigen::Index>(i);
    for (const SeenPoint& point : fit.photos[i].points) {
      const Vector3d turned = pose.rotation * point.mm;
      const auto there = project_with_jacobian(fit.lens, turned + pose.translation, LensJacobian::yes);
      j.block(row, 0, 2, n) = there->by_parameters;
      j.block(row, column, 2, 3) = -there->by_point * cross_matrix(turned);
      j.block(row, column + 3, 2, 3) = there->by_point;
      row += 2;
    }
  }
  return j;
}

// Standard deviation (in its worst direction) of the picture of a point that stays where the boards, on average, say:
// mrcal's definition. unit: direction at infinity.
inline double projection_sigma(const LensFit& fit, const MatrixXd& covariance, const Vector2d& px, double distance) {
  const Eigen::Index n = fit.lens.parameters.size();
  const Vector3d ray = *unproject(fit.lens, px);
  const bool infinite = distance <= 0.0;
  const Vector3d point = infinite ? ray : Vector3d(ray * distance);
  const auto there = project_with_jacobian(fit.lens, point, LensJacobian::yes);
  MatrixXd j = MatrixXd::Zero(2, covariance.rows());
  j.leftCols(n) = there->by_parameters;
  const double share = 1.0 / static_cast<double>(fit.photos.size());
  for (std::size_t i = 0; i < fit.photos.size(); ++i) {
    const Eigen::Index column = n + 6 * static_cast<Eigen::Index>(i);
    const Vector3d arm = infinite ? ray : Vector3d(point - fit.photos[i].camera_from_board.translation);
    j.block(0, column, 2, 3) = -share * there->by_point * cross_matrix(arm);
    if (!infinite) j.block(0, column + 3, 2, 3) = share * there->by_point;
  }
  const Matrix2d c = propagated(j, covariance);
  return std::sqrt(symmetric_eigenvalues(c)[1]);
}

inline MatrixXd inverse_normal(const MatrixXd& jacobian) {
  const MatrixXd factor = cholesky_factor(transpose_times(jacobian, jacobian)).value();
  return solve_cholesky(factor, MatrixXd::Identity(jacobian.cols(), jacobian.cols()));
}

}  // namespace jigtrue::published
