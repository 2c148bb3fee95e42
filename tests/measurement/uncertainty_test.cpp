// The budget of a slot and the map's radius are two uses of one camera: they must say the same of the same point.
#include "jigtrue/measurement/uncertainty.hpp"

#include "jigtrue/calibration/map_uncertainty.hpp"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

CameraRecord leaning_camera() {
  CameraRecord record;
  Camera& camera = record.camera;
  VectorXd parameters(9);
  parameters << 1350, 1352, 812, 588, -0.21, 0.06, 0.0012, -0.0008, 0.01;
  camera.lens = make_lens(LensModel::radial5, 1600, 1200, parameters);
  camera.camera_from_bed.rotation =
      rotation_from_vector({0.15, -0.08, 0.3}) * (Matrix3d() << 1, 0, 0, 0, -1, 0, 0, 0, -1).finished();
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * Vector3d(200.0, 160.0, 600.0));
  // any covariance of plausible sizes, lens and pose coupled
  std::mt19937 random(1);
  std::normal_distribution<double> normal;
  VectorXd size(15);
  size << 0.3, 0.3, 0.4, 0.4, 1e-3, 1e-3, 1e-4, 1e-4, 1e-3, 2e-4, 2e-4, 2e-4, 0.05, 0.05, 0.1;
  MatrixXd root(15, 15);
  for (double& x : root.reshaped()) x = normal(random) / 4.0;
  root = size.asDiagonal() * root;
  camera.covariance = root * root.transpose();
  record.lens.lens = camera.lens;
  record.lens.model_error_px = 0.3;
  return record;
}

TEST(Budget, StatesOfAPointWhatTheMapStates) {
  const CameraRecord record = leaning_camera();
  const Vector3d point(230.0, 120.0, 9.0);
  const auto there = project_bed_point_with_jacobian(record.camera, point);
  const auto mapped = map_point(record, there->px, point.z());
  ASSERT_TRUE(there && mapped);
  const Matrix2d px_from_bed = there->by_bed_point.leftCols<2>();
  // a blank that is a point: seen in two blocks, along the picture's x and y; its slot lies along the bed's X
  OutlineFit fit;
  fit.covariance.setZero();
  fit.response.setZero(kFittedParameters, 2);
  const Matrix2d bed_from_px = px_from_bed.inverse();
  fit.response.row(kAlong) = bed_from_px.row(0);
  fit.response.row(kAcross) = bed_from_px.row(1);
  for (const int axis : {0, 1}) {
    EdgeBlock block;
    block.point_mm = point;
    block.normal_px = Vector2d::Unit(axis);
    block.by_place(kAlong) = px_from_bed(axis, 0);
    block.by_place(kAcross) = px_from_bed(axis, 1);
    fit.blocks.push_back(block);
  }
  Slot slot;
  slot.blank.shape = DiscBlank{10.0, 3.0};
  slot.seat.height_tolerance_mm = 0.0;
  const UncertaintyBudget budget =
      make_budget(record.camera, slot, fit, fit.place, std::nullopt, true, record.lens.model_error_px);
  const auto share = [&](const std::string& name) {
    for (const BudgetShare& of : budget.shares)
      if (of.name == name) return of;
    ADD_FAILURE() << "no share of " << name;
    return BudgetShare{};
  };
  EXPECT_NEAR(share("lens").along_mm, std::sqrt(mapped->lens_share_mm2(0, 0)), 1e-9);
  EXPECT_NEAR(share("lens").across_mm, std::sqrt(mapped->lens_share_mm2(1, 1)), 1e-9);
  EXPECT_NEAR(share("pose").along_mm, std::sqrt(mapped->pose_share_mm2(0, 0)), 1e-9);
  EXPECT_NEAR(share("pose").across_mm, std::sqrt(mapped->pose_share_mm2(1, 1)), 1e-9);
  const double by_lens_model = share("lens model").across_mm;
  // the map's is the mean over directions, the budget's that of the steepest block: a leaning view stretches by a fifth
  EXPECT_NEAR(by_lens_model / mapped->lens_error_mm, 1.0, 0.2);
}

}  // namespace
}  // namespace jigtrue
