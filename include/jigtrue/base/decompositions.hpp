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

}  // namespace jigtrue
