// Products of matrices whose sizes are known only at run time, compiled once here: written out where they are used,
// every combination of expressions would cost the compiler seconds of its own.
#pragma once
#include <Eigen/Core>

namespace jigtrue {

using MatrixView = Eigen::Ref<const Eigen::MatrixXd>;

// a b
[[nodiscard]] Eigen::MatrixXd times(const MatrixView& a, const MatrixView& b);
// a^T b
[[nodiscard]] Eigen::MatrixXd transpose_times(const MatrixView& a, const MatrixView& b);
// by covariance by^T, exactly symmetric: the law of propagation of uncertainty (JCGM 102:2011, 6.2.1.3)
[[nodiscard]] Eigen::MatrixXd propagated(const MatrixView& by, const MatrixView& covariance);

}  // namespace jigtrue
