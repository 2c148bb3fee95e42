#include "jigtrue/base/decompositions.hpp"

#include <cmath>
#include <limits>
#include <random>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using Eigen::Matrix2d;
using Eigen::MatrixXd;
using Eigen::Vector2d;

// Rounding of some ten operations on numbers of size 1.
constexpr double kRounding = 1e-14;

Matrix2d turned(double rad) {
  Matrix2d m;
  m << std::cos(rad), -std::sin(rad), std::sin(rad), std::cos(rad);
  return m;
}

TEST(SymmetricEigen, GivesBackTheMatrixAndOrthonormalVectorsInOrder) {
  std::mt19937 random(5);
  std::normal_distribution<double> normal;
  MatrixXd half(7, 7);
  for (double& v : half.reshaped()) v = normal(random);
  const MatrixXd matrix = half * half.transpose();
  const auto eigen = symmetric_eigen(matrix);
  ASSERT_TRUE(eigen);
  EXPECT_LT((eigen->vectors * eigen->values.asDiagonal() * eigen->vectors.transpose() - matrix).norm(),
            100 * kRounding * matrix.norm());
  EXPECT_LT((eigen->vectors.transpose() * eigen->vectors - MatrixXd::Identity(7, 7)).norm(), 100 * kRounding);
  for (Eigen::Index i = 1; i < 7; ++i) EXPECT_LE(eigen->values[i - 1], eigen->values[i]);
}

TEST(SymmetricEigen, OfWhatIsNoNumberIsNothing) {
  MatrixXd matrix = MatrixXd::Identity(3, 3);
  matrix(1, 0) = std::numeric_limits<double>::quiet_NaN();
  EXPECT_FALSE(symmetric_eigen(matrix));
}

TEST(SymmetricEigenvalues, AreThoseTheMatrixWasMadeOf) {
  for (int degree = 0; degree < 360; degree += 15) {
    const Matrix2d turn = turned(degree * 0.0174532925);
    const Vector2d values = symmetric_eigenvalues(turn * Vector2d(2.0, -0.5).asDiagonal() * turn.transpose());
    EXPECT_NEAR(values[0], -0.5, kRounding);
    EXPECT_NEAR(values[1], 2.0, kRounding);
  }
  EXPECT_EQ(symmetric_eigenvalues(Matrix2d::Identity() * 3.0), Vector2d(3.0, 3.0));
}

TEST(SingularValues, AreThoseTheMatrixWasMadeOfHoweverFlat) {
  for (const double small : {1.0, 0.3, 1e-9, 0.0}) {
    for (int degree = 0; degree < 360; degree += 15) {
      for (const double mirror : {1.0, -1.0}) {
        const Matrix2d matrix =
            turned(degree * 0.0174532925) * Vector2d(1.0, mirror * small).asDiagonal() * turned(0.4);
        const Vector2d values = singular_values(matrix);
        EXPECT_NEAR(values[0], 1.0, kRounding);
        EXPECT_NEAR(values[1], small, kRounding);
      }
    }
  }
  EXPECT_EQ(singular_values(Matrix2d::Zero()), Vector2d(0.0, 0.0));
}

MatrixXd random_matrix(Eigen::Index rows, Eigen::Index columns, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  MatrixXd matrix(rows, columns);
  for (double& v : matrix.reshaped()) v = normal(random);
  return matrix;
}

TEST(OrthonormalBasis, SpansTheColumnsWhateverTheirSizes) {
  const MatrixXd columns = random_matrix(9, 3, 1) * Eigen::Vector3d(1e-6, 1.0, 1e6).asDiagonal();
  const MatrixXd basis = orthonormal_basis(columns);
  EXPECT_LT((basis.transpose() * basis - MatrixXd::Identity(3, 3)).norm(), 100 * kRounding);
  for (Eigen::Index i = 0; i < 3; ++i)
    EXPECT_LT((columns.col(i) - basis * (basis.transpose() * columns.col(i))).norm(),
              100 * kRounding * columns.col(i).norm());
}

TEST(Cholesky, SolvesWhatItWasMadeOf) {
  const MatrixXd half = random_matrix(6, 6, 2);
  const MatrixXd matrix = half * half.transpose() + MatrixXd::Identity(6, 6);
  const MatrixXd wanted = random_matrix(6, 2, 3);
  const auto lower = cholesky_factor(matrix);
  ASSERT_TRUE(lower);
  EXPECT_LT((*lower * lower->transpose() - matrix).norm(), 100 * kRounding * matrix.norm());
  EXPECT_LT((*lower * solve_lower(*lower, wanted) - wanted).norm(), 100 * kRounding * matrix.norm());
  EXPECT_LT((matrix * solve_cholesky(*lower, wanted) - wanted).norm(), 100 * kRounding * matrix.norm());
}

TEST(Cholesky, RefusesWhatIsNotPositiveDefinite) { EXPECT_FALSE(cholesky_factor(-MatrixXd::Identity(3, 3))); }

// The normal equations: what is left over is at right angles to every column.
TEST(SolveLeastSquares, LeavesOverOnlyWhatNoColumnReaches) {
  MatrixXd matrix(5, 2);
  matrix << 1.0, 0.0, 1.0, 1e3, 1.0, 2e3, 1.0, 3e3, 1.0, 4e3;
  MatrixXd right(5, 2);
  right << 1.0, 2.0, 0.0, 2.001, 3.0, 2.002, -1.0, 2.003, 2.0, 2.004;
  const MatrixXd solution = solve_least_squares(matrix, right);
  const MatrixXd left = right - matrix * solution;
  // of sums of five products of numbers up to 4e3
  EXPECT_LT((matrix.transpose() * left).cwiseAbs().maxCoeff(), 1e-11);
  // the second column lies on a line but for the last digits of its numbers, some 4e-16, over 1e3 from one to the next
  EXPECT_NEAR(solution(0, 1), 2.0, 1e-14);
  EXPECT_NEAR(solution(1, 1), 1e-6, 1e-18);
}

TEST(NearestOrthogonal, IsTheTurnThatAStretchedMatrixCameFrom) {
  // polar decomposition: a symmetric positive stretch does not change the nearest turn
  const Eigen::Matrix3d turn = Eigen::AngleAxisd(0.7, Eigen::Vector3d(1.0, 2.0, -0.5).normalized()).toRotationMatrix();
  Eigen::Matrix3d stretch;
  stretch << 2.0, 0.3, 0.1, 0.3, 1.0, -0.2, 0.1, -0.2, 0.5;
  EXPECT_LT((nearest_orthogonal(turn * stretch) - turn).norm(), 100 * kRounding);
}

}  // namespace
}  // namespace jigtrue
