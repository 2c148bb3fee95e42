#include "jigtrue/camera/camera_shares.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/products.hpp"

#include <stdexcept>

namespace jigtrue {
namespace {

// The inverse over the directions in which the covariance is not zero (a parameter held fixed has none). Parameters
// differ in size by many powers of ten, so it is taken of the correlations.
MatrixXd inverse_where_known(const MatrixXd& covariance) {
  const VectorXd sigma = covariance.diagonal().cwiseMax(0.0).cwiseSqrt();
  const VectorXd scale = sigma.unaryExpr([](double s) { return s > 0.0 ? 1.0 / s : 0.0; });
  const std::optional<SymmetricEigen> axes = symmetric_eigen(covariance.cwiseProduct(scale * scale.transpose()));
  if (!axes) throw std::logic_error("inverse_where_known: a covariance that is no number");
  constexpr double kNone = 1e-13;  // of correlations, whose rounding is some 1e-16 for each parameter
  const VectorXd inverse = axes->values.unaryExpr([](double v) { return v > kNone ? 1.0 / v : 0.0; });
  return propagated(scale.asDiagonal() * axes->vectors, MatrixXd(inverse.asDiagonal()));
}

}  // namespace

CameraShares camera_shares(const Camera& camera, const MatrixXd& by_camera) {
  const Eigen::Index n = camera.lens.parameters.size();
  const MatrixXd with_lens = times(by_camera, camera.covariance.leftCols(n));
  CameraShares shares;
  shares.lens = propagated(with_lens, inverse_where_known(camera.covariance.topLeftCorner(n, n)));
  shares.pose = propagated(by_camera, camera.covariance) - shares.lens;
  return shares;
}

}  // namespace jigtrue
