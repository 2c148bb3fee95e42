#include "jigtrue/base/decompositions.hpp"

#include <cmath>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <Eigen/QR>
#include <Eigen/SVD>

namespace jigtrue {

std::optional<SymmetricEigen> symmetric_eigen(const Eigen::MatrixXd& matrix) {
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(matrix);
  if (solver.info() != Eigen::Success) return std::nullopt;
  return SymmetricEigen{solver.eigenvalues(), solver.eigenvectors()};
}

Eigen::Vector2d symmetric_eigenvalues(const Eigen::Matrix2d& matrix) {
  const double middle = 0.5 * (matrix(0, 0) + matrix(1, 1));
  const double half = std::hypot(0.5 * (matrix(0, 0) - matrix(1, 1)), matrix(1, 0));
  return {middle - half, middle + half};
}

Eigen::Vector2d singular_values(const Eigen::Matrix2d& matrix) {
  // the matrix is a turn and scaling plus a reflection and scaling: their sizes add up along one direction
  const double turned = std::hypot(0.5 * (matrix(0, 0) + matrix(1, 1)), 0.5 * (matrix(1, 0) - matrix(0, 1)));
  const double reflected = std::hypot(0.5 * (matrix(0, 0) - matrix(1, 1)), 0.5 * (matrix(1, 0) + matrix(0, 1)));
  const double largest = turned + reflected;
  // the difference of the two would lose the digits of a small value
  return {largest, largest > 0.0 ? std::abs(matrix.determinant()) / largest : 0.0};
}

Eigen::MatrixXd orthonormal_basis(const Eigen::MatrixXd& columns) {
  const Eigen::VectorXd scale = columns.colwise().norm().cwiseMax(1e-300).cwiseInverse().transpose();
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(columns * scale.asDiagonal());
  return qr.householderQ() * Eigen::MatrixXd::Identity(columns.rows(), columns.cols());
}

std::optional<Eigen::MatrixXd> cholesky_factor(const Eigen::MatrixXd& matrix) {
  const Eigen::LLT<Eigen::MatrixXd> factor(matrix);
  if (factor.info() != Eigen::Success) return std::nullopt;
  return Eigen::MatrixXd(factor.matrixL());
}

Eigen::MatrixXd solve_lower(const Eigen::MatrixXd& lower, const Eigen::MatrixXd& right) {
  return lower.triangularView<Eigen::Lower>().solve(right);
}

Eigen::MatrixXd solve_cholesky(const Eigen::MatrixXd& lower, const Eigen::MatrixXd& right) {
  return lower.triangularView<Eigen::Lower>().transpose().solve(solve_lower(lower, right));
}

Eigen::MatrixXd solve_least_squares(const Eigen::MatrixXd& matrix, const Eigen::MatrixXd& right) {
  return matrix.colPivHouseholderQr().solve(right);
}

Eigen::Matrix3d nearest_orthogonal(const Eigen::Matrix3d& matrix) {
  const Eigen::JacobiSVD<Eigen::Matrix3d> svd(matrix, Eigen::ComputeFullU | Eigen::ComputeFullV);
  return svd.matrixU() * svd.matrixV().transpose();
}

}  // namespace jigtrue
