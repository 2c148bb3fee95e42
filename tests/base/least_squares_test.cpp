#include "jigtrue/base/least_squares.hpp"

#include <cmath>
#include <random>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

TEST(LeastSquares, RosenbrocksValleyIsFollowedToItsEnd) {
  VectorXd x(2);
  x << -1.2, 1.0;
  const auto summary = minimise_dense(x, [](const VectorXd& at, VectorXd& r, MatrixXd& j) {
    r.resize(2);
    j.resize(2, 2);
    r << 10.0 * (at[1] - at[0] * at[0]), 1.0 - at[0];
    j << -20.0 * at[0], 10.0, -1.0, 0.0;
    return true;
  });
  EXPECT_EQ(summary.reason, StopReason::converged);
  EXPECT_NEAR(x[0], 1.0, 1e-10);
  EXPECT_NEAR(x[1], 1.0, 1e-10);
}

// y = a exp(b t) through exact points: the residual vanishes, the parameters come out to rounding.
TEST(LeastSquares, ExactDataLeaveNothing) {
  VectorXd x(2);
  x << 1.0, 0.0;
  const auto summary = minimise_dense(x, [](const VectorXd& at, VectorXd& r, MatrixXd& j) {
    r.resize(20);
    j.resize(20, 2);
    for (int i = 0; i < 20; ++i) {
      const double t = 0.1 * i;
      r[i] = at[0] * std::exp(at[1] * t) - 2.5 * std::exp(-1.3 * t);
      j.row(i) << std::exp(at[1] * t), at[0] * t * std::exp(at[1] * t);
    }
    return true;
  });
  EXPECT_TRUE(summary.converged());
  EXPECT_NEAR(x[0], 2.5, 1e-10);
  EXPECT_NEAR(x[1], -1.3, 1e-10);
}

TEST(LeastSquares, ForbiddenStartIsReported) {
  VectorXd x = VectorXd::Zero(1);
  const auto summary = minimise_dense(x, [](const VectorXd&, VectorXd&, MatrixXd&) { return false; });
  EXPECT_EQ(summary.reason, StopReason::not_allowed);
  EXPECT_STREQ(to_string(summary.reason), "the start was not allowed");
}

// The unconstrained minimum lies at 2, but nothing beyond 1 is allowed: the end is the edge, and it is no convergence.
TEST(LeastSquares, EdgeOfWhatIsAllowedIsReported) {
  VectorXd x = VectorXd::Zero(1);
  const auto summary = minimise_dense(x, [](const VectorXd& at, VectorXd& r, MatrixXd& j) {
    r = VectorXd::Constant(1, at[0] - 2.0);
    j = MatrixXd::Ones(1, 1);
    return at[0] <= 1.0;
  });
  EXPECT_TRUE(summary.reason == StopReason::stuck || summary.reason == StopReason::iteration_limit);
  EXPECT_NEAR(x[0], 1.0, 1e-6);
}

TEST(LeastSquares, NonFiniteCostIsNeverAccepted) {
  VectorXd x = VectorXd::Constant(1, 3.0);
  const auto summary = minimise_dense(x, [](const VectorXd& at, VectorXd& r, MatrixXd& j) {
    r = VectorXd::Constant(1, std::sqrt(at[0]) - 0.5);  // a full step from 3 lands below 0
    j = MatrixXd::Constant(1, 1, 0.5 / std::sqrt(at[0]));
    return true;
  });
  EXPECT_TRUE(summary.converged());
  EXPECT_NEAR(x[0], 0.25, 1e-9);
}

// A random arrow: the blockwise solution must be that of the whole matrix.
struct Whole {
  ArrowSystem arrow;
  MatrixXd matrix;
  VectorXd gradient;
};
Whole random_arrow(unsigned seed) {
  constexpr int kShared = 4;
  constexpr int kBlocks = 5;
  constexpr int kBlock = 3;
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  const auto fill = [&](auto& m) {
    for (Eigen::Index i = 0; i < m.size(); ++i) m.data()[i] = normal(random);
  };
  Whole whole{ArrowSystem(kShared, kBlocks, kBlock),
              MatrixXd::Zero(kShared + kBlocks * kBlock, kShared + kBlocks * kBlock),
              VectorXd::Zero(kShared + kBlocks * kBlock)};
  for (int b = 0; b < kBlocks; ++b) {
    for (int k = 0; k < 6; ++k) {
      Eigen::Matrix<double, 2, kShared> by_shared;
      Eigen::Matrix<double, 2, kBlock> by_block;
      Eigen::Vector2d r;
      fill(by_shared);
      fill(by_block);
      fill(r);
      by_shared.col(1) *= 1e4;  // units differ
      const double weight = 0.5 + std::abs(normal(random));
      whole.arrow.add(r, by_shared, static_cast<std::size_t>(b), by_block, weight);
      MatrixXd j = MatrixXd::Zero(2, whole.matrix.cols());
      j.leftCols(kShared) = by_shared;
      j.middleCols(kShared + b * kBlock, kBlock) = by_block;
      whole.matrix += weight * j.transpose() * j;
      whole.gradient += weight * j.transpose() * r;
    }
  }
  return whole;
}

TEST(LeastSquares, ArrowStepIsTheWholeSystemsStep) {
  for (const double lambda : {0.0, 1e-3, 10.0}) {
    const Whole whole = random_arrow(77);
    const auto step = solve_damped(whole.arrow, lambda);
    ASSERT_TRUE(step);
    MatrixXd damped = whole.matrix;
    damped.diagonal() *= 1.0 + lambda;
    const VectorXd expected = damped.ldlt().solve(-whole.gradient);
    EXPECT_LT((step->shared - expected.head(4)).cwiseQuotient(expected.head(4)).cwiseAbs().maxCoeff(), 1e-9);
    for (int b = 0; b < 5; ++b) {
      EXPECT_LT((step->blocks[static_cast<std::size_t>(b)] - expected.segment(4 + 3 * b, 3)).norm(), 1e-10);
    }
    // of |r + J h|^2 against |r|^2
    const double decrease = -2.0 * whole.gradient.dot(expected) - expected.dot(whole.matrix * expected);
    EXPECT_NEAR(step->predicted_decrease, decrease, 1e-9 * decrease);
  }
}

TEST(LeastSquares, ArrowInverseIsTheWholeMatrixsCorner) {
  const Whole whole = random_arrow(78);
  const auto corner = inverse_shared(whole.arrow);
  ASSERT_TRUE(corner);
  const MatrixXd expected = whole.matrix.inverse().topLeftCorner(4, 4);
  for (int i = 0; i < 4; ++i) EXPECT_NEAR((*corner)(i, i) / expected(i, i), 1.0, 1e-8);
}

TEST(LeastSquares, UndeterminedParametersHaveNoInverse) {
  MatrixXd j(3, 2);
  j << 1, 2, 2, 4, -1, -2;
  EXPECT_FALSE(inverse_spd(j.transpose() * j));
  EXPECT_FALSE(inverse_spd(MatrixXd::Zero(2, 2)));
}

TEST(LeastSquares, CauchyLossFadesOut) {
  EXPECT_DOUBLE_EQ(cauchy_loss(4.0, 0.0).cost, 4.0);
  EXPECT_DOUBLE_EQ(cauchy_loss(4.0, 0.0).weight, 1.0);
  EXPECT_DOUBLE_EQ(cauchy_loss(9.0, 3.0).weight, 0.5);
  EXPECT_DOUBLE_EQ(cauchy_loss(9.0, 3.0).cost, 9.0 * std::log(2.0));
}

}  // namespace
}  // namespace jigtrue
