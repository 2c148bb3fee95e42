#include "jigtrue/base/decompositions.hpp"

#include <cmath>
#include <limits>
#include <random>

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

}  // namespace
}  // namespace jigtrue
