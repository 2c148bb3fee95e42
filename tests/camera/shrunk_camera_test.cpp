// A camera whose picture was made coarser sees the same bed.
#include "jigtrue/camera/camera.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

Camera tilted_camera() {
  VectorXd p(9);
  p << 1500, 1505, 980, 715, -0.12, 0.03, 0.0005, -0.0003, 0.002;
  Camera camera;
  camera.lens = make_lens(LensModel::radial5, 1921, 1441, p);
  Matrix3d down;
  down << 1, 0, 0, 0, -1, 0, 0, 0, -1;
  camera.camera_from_bed.rotation = rotation_from_vector({0.08, -0.12, 0.6}) * down;
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * Vector3d(200, 180, 450));
  const Eigen::Index n = camera.lens.parameters.size() + 6;
  camera.covariance = MatrixXd::Identity(n, n) * 1e-6;
  return camera;
}

TEST(ShrunkCamera, SeesBedPointsWhereTheAveragedPixelsLie) {
  const Camera camera = tilted_camera();
  for (const double factor : {1.0, 1.5, 2.0, 3.0, 7.0}) {
    const Camera small = shrunk(camera, factor);
    EXPECT_EQ(small.lens.width_px, std::floor(1921 / factor));
    EXPECT_EQ(small.lens.height_px, std::floor(1441 / factor));
    for (const Vector3d& point : {Vector3d(150, 220, 12), Vector3d(240, 150, 0)}) {
      const Vector2d large = *project_bed_point(camera, point);
      const Vector2d expected = (large.array() + 0.5) / factor - 0.5;
      EXPECT_LT((*project_bed_point(small, point) - expected).norm(), 1e-9) << factor;
    }
  }
}

// What is not known of the lens and the pose moves the same millimetres at any size of the picture.
TEST(ShrunkCamera, KnowsBedPointsAsWell) {
  const Camera camera = tilted_camera();
  const Vector3d point(150, 220, 12);
  const auto at = [&](const Camera& c) {
    return bed_point_at(c, *project_bed_point(c, point), point.z())->covariance_mm2;
  };
  const Matrix2d large = at(camera);
  // px-sized parameters shrink with the picture: the covariance of the map must not change
  EXPECT_LT((at(shrunk(camera, 3)) - large).norm(), 1e-9 * large.norm());
}

TEST(ShrunkCamera, RefusesAFactorBelowOne) { EXPECT_THROW((void)shrunk(tilted_camera(), 0), std::logic_error); }

}  // namespace
}  // namespace jigtrue
