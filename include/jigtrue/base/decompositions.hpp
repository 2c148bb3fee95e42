// Decompositions of matrices, compiled once here: written out where they are used, each would cost the compiler seconds
// per file.
#pragma once
#include <optional>

#include <Eigen/Core>

namespace jigtrue {

// matrix = vectors diag(values) vectors^T, values ascending.
struct SymmetricEigen {
  Eigen::VectorXd values;
  Eigen::MatrixXd vectors;  // in columns, orthonormal
};
// Of a symmetric matrix (its lower half is read). Nothing when it does not converge.
[[nodiscard]] std::optional<SymmetricEigen> symmetric_eigen(const Eigen::MatrixXd& matrix);

// Eigenvalues of a symmetric 2 x 2 matrix, ascending.
[[nodiscard]] Eigen::Vector2d symmetric_eigenvalues(const Eigen::Matrix2d& matrix);

// Singular values of a 2 x 2 matrix, descending: the longest and the shortest that a unit vector can become.
[[nodiscard]] Eigen::Vector2d singular_values(const Eigen::Matrix2d& matrix);

// An orthonormal basis of what the columns span, as many vectors as columns; the columns' sizes do not matter.
[[nodiscard]] Eigen::MatrixXd orthonormal_basis(const Eigen::MatrixXd& columns);

// Lower triangular L, L L^T = matrix (symmetric, its lower half is read). Nothing when it is not positive definite.
[[nodiscard]] std::optional<Eigen::MatrixXd> cholesky_factor(const Eigen::MatrixXd& matrix);
// L^-1 right, and (L L^T)^-1 right, by such a factor.
[[nodiscard]] Eigen::MatrixXd solve_lower(const Eigen::MatrixXd& lower, const Eigen::MatrixXd& right);
[[nodiscard]] Eigen::MatrixXd solve_cholesky(const Eigen::MatrixXd& lower, const Eigen::MatrixXd& right);

// The least-squares solution x of matrix x = right, a column of x for each of right's (QR with column pivoting).
[[nodiscard]] Eigen::MatrixXd solve_least_squares(const Eigen::MatrixXd& matrix, const Eigen::MatrixXd& right);

// U V^T of the singular value decomposition U S V^T: the nearest orthogonal matrix (Higham 1986).
[[nodiscard]] Eigen::Matrix3d nearest_orthogonal(const Eigen::Matrix3d& matrix);

}  // namespace jigtrue
