// Lens and pose apart: against draws of cameras, in which the regression on the lens is done by ordinary least squares.
#include "jigtrue/camera/camera_shares.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/products.hpp"
#include "support/seeded_by_name.hpp"

#include <cmath>
#include <random>

#include <Eigen/Dense>
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr Eigen::Index kLens = 9;
constexpr Eigen::Index kAll = kLens + 6;

struct Coupled {
  Camera camera;
  MatrixXd root;  // of its covariance
};

Coupled coupled(std::mt19937_64& random) {
  std::normal_distribution<double> normal;
  Coupled made;
  VectorXd parameters(kLens);
  parameters << 1350, 1352, 812, 588, -0.21, 0.06, 0.0012, -0.0008, 0.01;
  made.camera.lens = make_lens(LensModel::radial5, 1600, 1200, parameters);
  VectorXd size(kAll);
  size << 0.3, 0.3, 0.4, 0.4, 1e-3, 1e-3, 1e-4, 1e-4, 1e-3, 2e-4, 2e-4, 2e-4, 0.05, 0.05, 0.1;
  made.root.resize(kAll, kAll);
  for (double& x : made.root.reshaped()) x = normal(random) / 4.0;
  made.root = size.asDiagonal() * made.root;
  made.camera.covariance = made.root * made.root.transpose();
  return made;
}

MatrixXd some_quantity(std::mt19937_64& random, const Camera& camera) {
  std::normal_distribution<double> normal;
  MatrixXd by_camera(2, kAll);
  for (double& x : by_camera.reshaped()) x = normal(random);
  // so that every parameter matters
  return by_camera * camera.covariance.diagonal().cwiseSqrt().cwiseInverse().asDiagonal();
}

TEST(CameraShares, AddUpToTheWhole) {
  auto random = test::seeded_by_name();
  const Coupled made = coupled(random);
  const MatrixXd by_camera = some_quantity(random, made.camera);
  const CameraShares shares = camera_shares(made.camera, by_camera);
  const MatrixXd whole = by_camera * made.camera.covariance * by_camera.transpose();
  EXPECT_LT((shares.lens + shares.pose - whole).norm(), 1e-12 * whole.norm());
}

TEST(CameraShares, WhatIsLeftOfDrawsOnceTheLensIsKnownIsThePoses) {
  auto random = test::seeded_by_name();
  std::normal_distribution<double> normal;
  const Coupled made = coupled(random);
  const MatrixXd by_camera = some_quantity(random, made.camera);
  const CameraShares shares = camera_shares(made.camera, by_camera);
  constexpr int kDraws = 4000;
  MatrixXd cameras(kDraws, kAll);
  for (int i = 0; i < kDraws; ++i) {
    VectorXd draw(kAll);
    for (double& x : draw) x = normal(random);
    cameras.row(i) = (made.root * draw).transpose();
  }
  const MatrixXd quantity = cameras * by_camera.transpose();
  const MatrixXd lenses = orthonormal_basis(cameras.leftCols(kLens));
  const MatrixXd left = quantity - lenses * transpose_times(lenses, quantity);
  const MatrixXd sampled = left.transpose() * left / (kDraws - kLens);
  // a variance from n draws scatters by sqrt(2 / n): 2.2 %, here with 3.5 of that
  for (int axis : {0, 1})
    EXPECT_NEAR(shares.pose(axis, axis) / sampled(axis, axis), 1.0, 3.5 * std::sqrt(2.0 / kDraws)) << axis;
}

TEST(CameraShares, OfALensThatIsHeldFixedIsAllThePoses) {
  auto random = test::seeded_by_name();
  Coupled made = coupled(random);
  made.camera.covariance.topRows(kLens).setZero();
  made.camera.covariance.leftCols(kLens).setZero();
  const MatrixXd by_camera = MatrixXd::Ones(2, kAll);
  const CameraShares shares = camera_shares(made.camera, by_camera);
  EXPECT_EQ(shares.lens.norm(), 0.0);
  EXPECT_GT(shares.pose(0, 0), 0.0);
}

}  // namespace
}  // namespace jigtrue
