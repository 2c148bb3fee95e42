#include "jigtrue/base/products.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using Eigen::MatrixXd;

MatrixXd rows(std::initializer_list<std::initializer_list<double>> values) { return MatrixXd(values); }

TEST(Products, OfSmallMatricesAreThoseWorkedOutByHand) {
  const MatrixXd a = rows({{1, 2}, {3, 4}, {5, 6}});
  const MatrixXd b = rows({{1, 0, 2}, {0, 1, 3}});
  EXPECT_EQ(times(a, b), rows({{1, 2, 8}, {3, 4, 18}, {5, 6, 28}}));
  EXPECT_EQ(transpose_times(a, a), rows({{35, 44}, {44, 56}}));
}

TEST(Products, TakePartsOfMatricesAsTheyStand) {
  const MatrixXd a = rows({{9, 9, 9}, {9, 1, 2}, {9, 3, 4}});
  EXPECT_EQ(times(a.bottomRightCorner(2, 2), a.bottomRightCorner<2, 2>()), rows({{7, 10}, {15, 22}}));
}

TEST(Products, WithoutColumnsAreEmpty) { EXPECT_EQ(times(MatrixXd(2, 3), MatrixXd(3, 0)).cols(), 0); }

// u(area)^2 = b^2 u(a)^2 + a^2 u(b)^2 + 2 a b u(a, b): the law of propagation for a product (JCGM 100:2008, 5.2.2).
TEST(Propagated, IsTheLawOfPropagation) {
  const double a = 3.0;
  const double b = 5.0;
  const MatrixXd by = rows({{b, a}, {1.0, 1.0}});
  const MatrixXd covariance = rows({{0.04, 0.01}, {0.01, 0.09}});
  const MatrixXd carried = propagated(by, covariance);
  EXPECT_NEAR(carried(0, 0), 25 * 0.04 + 9 * 0.09 + 2 * 15 * 0.01, 1e-14);
  EXPECT_NEAR(carried(1, 1), 0.04 + 0.09 + 2 * 0.01, 1e-14);
  EXPECT_EQ(carried(0, 1), carried(1, 0));
}

}  // namespace
}  // namespace jigtrue
