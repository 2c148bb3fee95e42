#include "jigtrue/camera/camera_shares.hpp"

#include "jigtrue/base/decompositions.hpp"

#include <stdexcept>

namespace jigtrue {
namespace {

// The inverse over the directions in which the covariance is not zero (a parameter held fixed has none). Parameters
// differ in size by many powers of ten, so it is taken of the correlations.
MatrixXd inverse_where_known(const MatrixXd& covariance) {
  const VectorXd sigma = covariance.diagonal().cwiseMax(0.0).cwiseSqrt();
  const VectorXd scale = sigma.unaryExpr([](double s) { return s > 0.0 ? 1.0 / s : 0.0; });
  const std::optional<SymmetricEigen> axes = symmetric_eigen(scale.asDiagonal() * covariance * scale.asDiagonal());
  if (!axes) throw std::logic_error("inverse_where_known: a covariance that is no number");
  constexpr double kNone = 1e-13;  // of correlations, whose rounding is some 1e-16 for each parameter
  const VectorXd inverse = axes->values.unaryExpr([](double v) { return v > kNone ? 1.0 / v : 0.0; });
  return scale.asDiagonal() * axes->vectors * inverse.asDiagonal() * axes->vectors.transpose() * scale.asDiagonal();
}

}  // namespace

CameraShares camera_shares(const Camera& camera, const MatrixXd& by_camera) {
  const Eigen::Index n = camera.lens.parameters.size();
  const MatrixXd with_lens = by_camera * camera.covariance.leftCols(n);
  CameraShares shares;
  shares.lens = with_lens * inverse_where_known(camera.covariance.topLeftCorner(n, n)) * with_lens.transpose();
  shares.pose = by_camera * camera.covariance * by_camera.transpose() - shares.lens;
  return shares;
}

}  // namespace jigtrue
