// The same quantities by an independent program: OpenCV's projection, its pose from points, and a Monte Carlo of that
// pose. (OpenCV's calibration of the same corners: tests/calibration/lens_fit_test.cpp.)
#include "jigtrue/calibration/pose_fit.hpp"

#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "calibration/synthetic.hpp"
#include <gtest/gtest.h>
#include <opencv2/calib3d.hpp>

namespace jigtrue {
namespace {

struct CvCamera {
  cv::Matx33d k;
  std::vector<double> distortion;
};
CvCamera cv_camera(const Lens& lens) {
  const VectorXd& p = lens.parameters;
  return {{p[0], 0, p[2], 0, p[1], p[3], 0, 0, 1}, {p.data() + 4, p.data() + p.size()}};
}
cv::Vec3d cv_vector(const Vector3d& v) { return {v.x(), v.y(), v.z()}; }
cv::Point3d cv_point(const Vector3d& v) { return {v.x(), v.y(), v.z()}; }
cv::Vec3d cv_rotation(const Matrix3d& r) {
  cv::Matx33d rotation;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) rotation(i, j) = r(i, j);
  cv::Vec3d vector;
  cv::Rodrigues(rotation, vector);
  return vector;
}
Rigid from_cv(const cv::Vec3d& rotation, const cv::Vec3d& translation) {
  cv::Matx33d r;
  cv::Rodrigues(rotation, r);
  Rigid pose;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) pose.rotation(i, j) = r(i, j);
  pose.translation = {translation[0], translation[1], translation[2]};
  return pose;
}

std::vector<std::pair<std::string, Lens>> lenses() {
  return {
      {"barrel", synthetic::barrel_lens()}, {"rational", synthetic::rational_lens()}, {"wide", synthetic::wide_lens()}};
}

// From a bed point to its pixel and back to the bed: OpenCV goes there, jigtrue both ways.
TEST(AgainstOpenCv, BedPointsLieAtTheSamePixels) {
  for (const auto& [name, lens] : lenses()) {
    const Camera camera = synthetic::overhead_camera(lens);
    std::vector<cv::Point3d> bed;
    for (double x = 60.0; x <= 300.0; x += 30.0)
      for (double y = 90.0; y <= 310.0; y += 20.0)
        for (const double z : {0.0, 9.0, 25.0}) bed.emplace_back(x, y, z);
    const CvCamera other = cv_camera(lens);
    const cv::Vec3d rotation = cv_rotation(camera.camera_from_bed.rotation);
    const cv::Vec3d translation = cv_vector(camera.camera_from_bed.translation);
    std::vector<cv::Point2d> px;
    if (lens.model == LensModel::equidistant4) {
      cv::fisheye::projectPoints(bed, px, rotation, translation, other.k, other.distortion);
    } else {
      cv::projectPoints(bed, rotation, translation, other.k, other.distortion, px);
    }
    for (std::size_t i = 0; i < bed.size(); ++i) {
      const Vector3d mm(bed[i].x, bed[i].y, bed[i].z);
      const Vector2d expected(px[i].x, px[i].y);
      const auto seen = project_bed_point(camera, mm);
      ASSERT_TRUE(seen) << name;
      // rounding of two ways to compute a few thousand px
      EXPECT_LT((*seen - expected).norm(), 1e-8) << name << " at " << mm.transpose();
      const auto back = bed_point_at(camera, expected, mm.z());
      ASSERT_TRUE(back) << name;
      EXPECT_LT((back->mm - mm.head<2>()).norm(), 1e-8) << name << " at " << mm.transpose();
    }
  }
}

struct Seen {
  std::vector<cv::Point3d> mm;  // bed frame
  std::vector<cv::Point2d> px;
  BoardCorners corners;
};

const BoardPlacement kPlacement{95.0, 120.0, 12.0, 3.0, 0.0, 0.0, 0.0, 0.0};

Seen see_board(const Camera& camera, double noise_px, std::mt19937& random) {
  std::normal_distribution<double> normal(0.0, noise_px);
  Seen seen;
  seen.corners.board = synthetic::kBoard;
  for (int row = 0; row < synthetic::kBoard.inner_rows(); ++row) {
    for (int column = 0; column < synthetic::kBoard.inner_columns(); ++column) {
      const Vector3d mm = bed_from_board(kPlacement) * synthetic::kBoard.corner_mm(column, row);
      const Vector2d px = *project_bed_point(camera, mm) + Vector2d(normal(random), normal(random));
      seen.mm.push_back(cv_point(mm));
      seen.px.emplace_back(px.x(), px.y());
      seen.corners.px.push_back(px);
      seen.corners.sigma_px.push_back(noise_px);
    }
  }
  return seen;
}

// solvePnP, then its own refinement down to rounding.
Rigid pose_by_opencv(const Lens& lens, const Seen& seen) {
  const CvCamera camera = cv_camera(lens);
  cv::Vec3d rotation;
  cv::Vec3d translation;
  cv::solvePnP(seen.mm, seen.px, camera.k, camera.distortion, rotation, translation);
  cv::solvePnPRefineLM(seen.mm, seen.px, camera.k, camera.distortion, rotation, translation,
                       cv::TermCriteria(cv::TermCriteria::COUNT | cv::TermCriteria::EPS, 100, 1e-14));
  return from_cv(rotation, translation);
}

LensRecord known_exactly(const Lens& lens, double noise_px) {
  LensRecord record;
  record.lens = lens;
  record.sigma0_px = record.noise_px = noise_px;
  record.rms_px = noise_px * std::sqrt(2.0);
  record.covariance = MatrixXd::Zero(lens.parameters.size(), lens.parameters.size());
  return record;
}

// Both minimise the sum of the squared distances in the picture.
TEST(AgainstOpenCv, PoseIsThatOfSolvePnP) {
  std::mt19937 random(71);
  constexpr double noise_px = 0.2;
  for (const auto& [name, lens] : lenses()) {
    if (lens.model == LensModel::equidistant4) continue;  // solvePnP has no such lens
    const Camera camera = synthetic::overhead_camera(lens);
    for (int run = 0; run < 20; ++run) {
      const Seen seen = see_board(camera, noise_px, random);
      const auto fit = fit_pose_to_board(known_exactly(lens, noise_px), seen.corners, 1600, 1200, kPlacement);
      ASSERT_TRUE(fit) << fit.reason();
      const Rigid other = pose_by_opencv(lens, seen);
      const Rigid& ours = fit->camera.camera_from_bed;
      // The minimum is flat: a cost that is right to 1e-13 of itself pins the pose to 3e-7 of its sigma (0.05 mm, 1e-4
      // rad) times the square root of the freedoms; two orders of reserve for OpenCV's numeric step.
      EXPECT_LT(vector_from_rotation(ours.rotation * other.rotation.transpose()).norm(), 1e-8) << name;
      EXPECT_LT((ours.inverse().translation - other.inverse().translation).norm(), 1e-5) << name;
    }
  }
}

// What jigtrue states of points on the bed is what fresh noise does to them when OpenCV solves for the pose.
TEST(AgainstOpenCv, CovarianceIsItsMonteCarlo) {
  std::mt19937 random(72);
  constexpr double noise_px = 0.1;
  constexpr int runs = 600;
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = synthetic::overhead_camera(lens);
  const Seen one = see_board(camera, noise_px, random);
  const auto fit = fit_pose_to_board(known_exactly(lens, noise_px), one.corners, 1600, 1200, kPlacement);
  ASSERT_TRUE(fit) << fit.reason();
  const std::vector<Vector3d> places = {{60, 90, 0}, {180, 200, 9}, {300, 290, 15}, {90, 300, 3}};
  std::vector<Matrix2d> scatter(places.size(), Matrix2d::Zero());
  for (int run = 0; run < runs; ++run) {
    Camera solved = camera;
    solved.camera_from_bed = pose_by_opencv(lens, see_board(camera, noise_px, random));
    for (std::size_t k = 0; k < places.size(); ++k) {
      const auto point = bed_point_at(solved, *project_bed_point(camera, places[k]), places[k].z());
      ASSERT_TRUE(point);
      const Vector2d error = point->mm - places[k].head<2>();
      scatter[k] += error * error.transpose() / runs;
    }
  }
  for (std::size_t k = 0; k < places.size(); ++k) {
    const auto stated = bed_point_at(fit->camera, *project_bed_point(camera, places[k]), places[k].z());
    ASSERT_TRUE(stated);
    for (int axis = 0; axis < 2; ++axis) {
      const double ratio = std::sqrt(scatter[k](axis, axis) / stated->covariance_mm2(axis, axis));
      // a standard deviation from 600 draws is known to 1 / sqrt(1200) = 2.9 %, jigtrue's own scale from one photo of
      // 54 corners (102 freedoms) to 7.0 %: four times both together
      EXPECT_NEAR(ratio, 1.0, 0.30) << "place " << k << " axis " << axis;
      // and apart from that scale, which all of them share
      EXPECT_NEAR(ratio * fit->sigma0_px / noise_px, 1.0, 4.0 * 0.029 + 0.01) << "place " << k << " axis " << axis;
    }
    const double correlation = scatter[k](0, 1) / std::sqrt(scatter[k](0, 0) * scatter[k](1, 1));
    const double expected =
        stated->covariance_mm2(0, 1) / std::sqrt(stated->covariance_mm2(0, 0) * stated->covariance_mm2(1, 1));
    EXPECT_NEAR(correlation, expected, 4.0 / std::sqrt(double{runs})) << "place " << k;
  }
}

}  // namespace
}  // namespace jigtrue
