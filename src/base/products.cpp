#include "jigtrue/base/products.hpp"

namespace jigtrue {

Eigen::MatrixXd times(const MatrixView& a, const MatrixView& b) { return a * b; }

Eigen::MatrixXd transpose_times(const MatrixView& a, const MatrixView& b) { return a.transpose() * b; }

Eigen::MatrixXd propagated(const MatrixView& by, const MatrixView& covariance) {
  const Eigen::MatrixXd half = by * covariance;
  const Eigen::MatrixXd whole = half * by.transpose();
  return 0.5 * (whole + whole.transpose());
}

}  // namespace jigtrue
