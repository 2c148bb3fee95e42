#include "jigtrue/camera/camera.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

Lens test_lens() {
  VectorXd p(9);
  p << 1500, 1505, 980, 715, -0.12, 0.03, 0.0005, -0.0003, 0.002;
  return make_lens(LensModel::radial5, 1920, 1440, p);
}

// Looks down from 450 mm above (200, 180), turned by a quarter and leaning by a few degrees.
Camera test_camera() {
  Rigid camera_from_bed;
  Matrix3d down;  // camera x = bed x, camera y = -bed y, camera z = -bed z
  down << 1, 0, 0, 0, -1, 0, 0, 0, -1;
  camera_from_bed.rotation = rotation_from_vector({0.08, -0.12, 0.6}) * down;
  camera_from_bed.translation = -(camera_from_bed.rotation * Vector3d(200, 180, 450));
  return {test_lens(), camera_from_bed, {}};
}

TEST(Camera, CentreIsWhereItWasPut) { EXPECT_LT((test_camera().centre_mm() - Vector3d(200, 180, 450)).norm(), 1e-10); }

TEST(Camera, BedPointsComeBackAtTheirHeight) {
  const Camera camera = test_camera();
  for (double x = 120; x <= 280; x += 40) {
    for (double y = 120; y <= 240; y += 30) {
      for (const double z : {0.0, 3.0, 25.0}) {
        const auto px = project_bed_point(camera, {x, y, z});
        ASSERT_TRUE(px);
        const auto back = bed_point_at(camera, *px, z);
        ASSERT_TRUE(back);
        EXPECT_LT((back->mm - Vector2d(x, y)).norm(), 1e-8);
        EXPECT_EQ(back->covariance_mm2, Matrix2d::Zero());
      }
    }
  }
}

TEST(Camera, JacobiansAgreeWithDifferences) {
  const Camera camera = test_camera();
  const Vector3d point(150, 220, 12);
  const auto there = project_bed_point_with_jacobian(camera, point);
  ASSERT_TRUE(there);
  const double h = 1e-5;
  for (int axis = 0; axis < 3; ++axis) {
    const Vector2d numeric = (*project_bed_point(camera, point + h * Vector3d::Unit(axis)) -
                              *project_bed_point(camera, point - h * Vector3d::Unit(axis))) /
                             (2 * h);
    EXPECT_LT((numeric - there->by_bed_point.col(axis)).norm(), 1e-6);
  }
  const Eigen::Index n = camera.lens.parameters.size();
  ASSERT_EQ(there->by_camera.cols(), n + 6);
  for (Eigen::Index i = 0; i < n + 6; ++i) {
    const auto moved = [&](double step) {
      Camera c = camera;
      if (i < n) {
        c.lens.parameters[i] += step;
      } else if (i < n + 3) {
        c.camera_from_bed.rotation = rotation_from_vector(step * Vector3d::Unit(i - n)) * c.camera_from_bed.rotation;
      } else {
        c.camera_from_bed.translation += step * Vector3d::Unit(i - n - 3);
      }
      return *project_bed_point(c, point);
    };
    const Vector2d numeric = (moved(1e-6) - moved(-1e-6)) / 2e-6;
    // rounding of 1e-13 px over a step of 1e-6, and the step's own square times third derivatives of some 1e3 px
    EXPECT_LT((numeric - there->by_camera.col(i)).norm(), 1e-6 * (1 + numeric.norm())) << "column " << i;
  }
}

TEST(Camera, CovarianceIsCarriedToTheBed) {
  Camera camera = test_camera();
  const Eigen::Index n = camera.lens.parameters.size();
  camera.covariance = MatrixXd::Zero(n + 6, n + 6);
  camera.covariance(n + 3, n + 3) = 0.04;  // 0.2 mm along the camera's x
  const auto px = project_bed_point(camera, {210, 170, 5});
  const auto point = bed_point_at(camera, *px, 5);
  ASSERT_TRUE(point);
  // by differences: the same position through a camera that stands 1e-4 mm aside
  Camera moved = camera;
  moved.camera_from_bed.translation.x() += 1e-4;
  const Vector2d shift = (bed_point_at(moved, *px, 5)->mm - point->mm) / 1e-4;
  EXPECT_LT((point->covariance_mm2 - 0.04 * shift * shift.transpose()).norm(), 1e-6);
  EXPECT_NEAR(std::sqrt(point->covariance_mm2.trace()), 0.2, 0.02);
}

TEST(Camera, NoBedPointForRaysThatDoNotComeDown) {
  Camera camera = test_camera();
  const auto px = project_bed_point(camera, {200, 180, 0});
  EXPECT_FALSE(bed_point_at(camera, *px, 451));
  EXPECT_FALSE(bed_point_at(camera, *px, std::numeric_limits<double>::quiet_NaN()));
  // looking level: rays above the horizon never come down
  Matrix3d level;
  level << 1, 0, 0, 0, 0, -1, 0, 1, 0;
  camera.camera_from_bed.rotation = level;
  camera.camera_from_bed.translation = -(level * Vector3d(200, 0, 100));
  EXPECT_TRUE(bed_point_at(camera, {980, 1200}, 0));
  EXPECT_FALSE(bed_point_at(camera, {980, 200}, 0));
}

TEST(Camera, HomographyLeadsToTheBedPlane) {
  const Camera camera = test_camera();
  const Matrix3d h = bed_homography(camera);
  EXPECT_DOUBLE_EQ(h(2, 2), 1.0);
  const Vector2d bed(133, 207);
  const auto px = project_bed_point(camera, {bed.x(), bed.y(), 0});
  const Vector3d ray = *unproject(camera.lens, *px);
  const Vector3d mapped = h * (ray / ray.z());
  EXPECT_LT((mapped.head<2>() / mapped.z() - bed).norm(), 1e-8);
}

}  // namespace
}  // namespace jigtrue
