// Published calibrations, computed again from their published points. The data lie beside the project, not in it; where
// they are absent these tests are skipped.
#include "jigtrue/calibration/pose_fit.hpp"

#include <cmath>
#include <cstdio>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include "published/projection_sigma.hpp"
#include "published/published_corners.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using namespace published;

std::vector<double> read_numbers(const std::string& name) {
  std::ifstream in(kPublished + name);
  std::vector<double> numbers;
  for (double v = 0.0; in >> v;) numbers.push_back(v);
  return numbers;
}

// Z. Zhang's five views of a board of 64 squares, 256 corners each (MSR-TR-98-71).
std::vector<LensView> zhang_views(int count) {
  std::vector<LensView> views;
  const std::vector<double> model = read_numbers("zhang1998/Model.txt");
  for (int i = 1; i <= count && !model.empty(); ++i) {
    const std::vector<double> seen = read_numbers("zhang1998/data" + std::to_string(i) + ".txt");
    LensView view;
    view.file = "data" + std::to_string(i);
    for (std::size_t j = 0; j + 1 < model.size(); j += 2) {
      view.points.push_back({{model[j], model[j + 1], 0.0}, {seen[j], seen[j + 1]}, 1.0});
    }
    views.push_back(std::move(view));
  }
  return views;
}

TEST(Published, ZhangsFiveViews) {
  const auto views = zhang_views(5);
  if (views.empty()) GTEST_SKIP() << "the published reference data are not beside this project";
  ASSERT_EQ(views.front().points.size(), 256u);
  LensFitOptions options;
  options.model = LensModel::radial5;
  options.leave_out_corners = false;
  options.fixed_parameters = {"p1", "p2", "k3"};
  const LensFit fit = fit_lens_to_views(views, 640, 480, options);
  // without skew, k1 and k2 only: the minimum that OpenCV 4.6 finds, printed to 4 and 6 places. Corners as floats and
  // its own stopping rule leave some units in the last place.
  EXPECT_NEAR(fit.lens.parameters[0], 832.2069, 0.002);
  EXPECT_NEAR(fit.lens.parameters[1], 832.2425, 0.002);
  EXPECT_NEAR(fit.lens.parameters[2], 304.0683, 0.002);
  EXPECT_NEAR(fit.lens.parameters[3], 206.3724, 0.002);
  EXPECT_NEAR(fit.lens.parameters[4], -0.228531, 2e-5);
  EXPECT_NEAR(fit.lens.parameters[5], 0.191011, 1e-4);
  EXPECT_EQ(fit.lens.parameters[8], 0.0);
  EXPECT_NEAR(fit.rms_px, 0.33689, 1e-5);
}

// Skew is no part of a camera made today, nor of our models. A camera with skew g, u = alpha x + g y + u0, is one
// without whose columns are sheared by g / beta, so each g is a fit of ours to sheared corners, and the best g a
// parabola through three of them. Shearing by 1/4000 weighs the corners' errors anew by as little.
struct SkewedFit {
  double skew;
  double skew_sigma;
  LensFit rest;
};

LensFit fit_with_skew(const std::vector<LensView>& views, double skew, const LensFitOptions& options) {
  double beta = 832.0;  // settled by the second round
  double v0 = 206.0;
  LensFit fit;
  for (int round = 0; round < 2; ++round) {
    std::vector<LensView> sheared = views;
    for (LensView& view : sheared)
      for (SeenPoint& point : view.points) point.px.x() -= skew / beta * (point.px.y() - v0);
    fit = fit_lens_to_views(sheared, 640, 480, options);
    beta = fit.lens.parameters[1];
    v0 = fit.lens.parameters[3];
  }
  return fit;
}

SkewedFit fit_skew(const std::vector<LensView>& views, const LensFitOptions& options) {
  constexpr double kMiddle = 0.2;
  constexpr double kApart = 0.3;
  double corners = 0.0;
  for (const LensView& view : views) corners += static_cast<double>(view.points.size());
  const auto squares_at = [&](double skew) {
    const double rms = fit_with_skew(views, skew, options).rms_px;
    return rms * rms * corners;
  };
  const double below = squares_at(kMiddle - kApart);
  const double middle = squares_at(kMiddle);
  const double above = squares_at(kMiddle + kApart);
  const double curvature = (below - 2.0 * middle + above) / (kApart * kApart);
  SkewedFit fit;
  fit.skew = kMiddle - (above - below) / (2.0 * kApart * curvature);
  fit.rest = fit_with_skew(views, fit.skew, options);
  const double parameters = 7.0 + 6.0 * static_cast<double>(views.size());
  const double variance = fit.rest.rms_px * fit.rest.rms_px * corners / (2.0 * corners - parameters);
  fit.skew_sigma = std::sqrt(2.0 * variance / curvature);
  return fit;
}

// All seven numbers of MSR-TR-98-71 (the author's result file: six digits), each within a hundredth of its sigma; the
// sigmas of PAMI 22(11) 2000, table 1 (from memory), printed to two or three digits.
TEST(Published, ZhangsFiveViewsWithSkew) {
  const auto views = zhang_views(5);
  if (views.empty()) GTEST_SKIP() << "the published reference data are not beside this project";
  LensFitOptions options;
  options.model = LensModel::radial5;
  options.leave_out_corners = false;
  options.fixed_parameters = {"p1", "p2", "k3"};
  const SkewedFit fit = fit_skew(views, options);
  const VectorXd& lens = fit.rest.lens.parameters;
  EXPECT_NEAR(lens[0], 832.5, 0.0141);
  EXPECT_NEAR(fit.skew, 0.204494, 0.00078);
  EXPECT_NEAR(lens[1], 832.53, 0.0138);
  EXPECT_NEAR(lens[2], 303.959, 0.0071);
  EXPECT_NEAR(lens[3], 206.585, 0.0066);
  EXPECT_NEAR(lens[4], -0.228601, 0.01 * std::sqrt(fit.rest.white_covariance(4, 4)));
  EXPECT_NEAR(lens[5], 0.190353, 0.01 * std::sqrt(fit.rest.white_covariance(5, 5)));
  EXPECT_NEAR(fit.rest.rms_px, 0.3364, 5e-5);
  EXPECT_NEAR(std::sqrt(fit.rest.white_covariance(0, 0)), 1.41, 0.01);
  EXPECT_NEAR(std::sqrt(fit.rest.white_covariance(1, 1)), 1.38, 0.01);
  EXPECT_NEAR(std::sqrt(fit.rest.white_covariance(2, 2)), 0.71, 0.01);
  EXPECT_NEAR(std::sqrt(fit.rest.white_covariance(3, 3)), 0.66, 0.01);
  EXPECT_NEAR(fit.skew_sigma, 0.078, 0.001);
}

struct Expected {
  const char* file;
  double fx, fy, cx, cy, rms;
};

class PublishedCorners : public testing::TestWithParam<Expected> {};
INSTANTIATE_TEST_SUITE_P(
    Sides, PublishedCorners,
    testing::Values(Expected{"opencv_left_corners_subpix5.csv", 532.83, 532.95, 342.49, 233.86, 0.1954},
                    Expected{"opencv_right_corners_subpix5.csv", 537.45, 536.97, 327.59, 248.88, 0.2070}),
    [](const auto& test) {
      return std::string(test.param.file).substr(7, 4) == "left" ? std::string("left") : std::string("right");
    });

TEST_P(PublishedCorners, FiveCoefficients) {
  const auto views = corner_views(GetParam().file);
  if (views.empty()) GTEST_SKIP() << "the published reference data are not beside this project";
  ASSERT_EQ(views.size(), 13u);
  const LensFit fit = fit_radial(views, false);
  // two programs agree there to 0.02 px and 1e-5 px of rms; printed to two and four places
  EXPECT_NEAR(fit.lens.parameters[0], GetParam().fx, 0.02);
  EXPECT_NEAR(fit.lens.parameters[1], GetParam().fy, 0.02);
  EXPECT_NEAR(fit.lens.parameters[2], GetParam().cx, 0.02);
  EXPECT_NEAR(fit.lens.parameters[3], GetParam().cy, 0.02);
  EXPECT_NEAR(fit.rms_px, GetParam().rms, 6e-5);
}

// With the bow of the board fitted too, that board is bent by about -0.17 mm of 25 mm squares along its short side (run
// with an independent program on both cameras), and the rms falls as it does there (per coordinate).
TEST(Published, BowOfTheBoardSeenByBothCameras) {
  for (const auto& [file, rms] : {std::pair("opencv_left_corners_subpix5.csv", 0.132829),
                                  std::pair("opencv_right_corners_subpix5.csv", 0.139274)}) {
    const auto views = corner_views(file);
    if (views.empty()) GTEST_SKIP() << "the published reference data are not beside this project";
    LensFitOptions options;
    options.model = LensModel::radial5;
    options.leave_out_corners = false;
    options.fit_board_shape = true;
    const LensFit fit = fit_lens_to_views(views, 640, 480, options);
    ASSERT_TRUE(fit.board_shape);
    const double bow_mm = 25.0 * std::abs(fit.board_shape->bow_y_mm);
    EXPECT_NEAR(bow_mm, 0.175, 0.02) << file;
    // the stretch is one parameter more than that program had: a little lower, no more
    EXPECT_LT(fit.rms_px / std::sqrt(2.0), rms + 1e-5) << file;
    EXPECT_GT(fit.rms_px / std::sqrt(2.0), rms - 0.004) << file;
  }
}

// What is foreseen of left-out photos, half a board from its other half, is what is met there: on real photos corners
// err together, and independent errors would foresee half.
TEST(Published, WhatIsForeseenOfLeftOutPhotosIsMet) {
  const auto views = [](const std::string& name) { return corner_views("opencv_" + name + "_corners_subpix5.csv"); };
  if (views("left").empty()) GTEST_SKIP() << "the published reference data are not beside this project";
  LensFitOptions zhang;
  zhang.model = LensModel::radial5;
  zhang.leave_out_corners = false;
  zhang.fixed_parameters = {"p1", "p2", "k3"};
  const std::vector<std::pair<std::string, LensFit>> fits = {
      {"left", fit_radial(views("left"), false)},
      {"right", fit_radial(views("right"), false)},
      {"zhang", fit_lens_to_views(zhang_views(5), 640, 480, zhang)}};
  for (const auto& [name, fit] : fits) {
    const ModelTrial& trial = fit.trials.front();
    std::printf(
        "%s: held out %.3f px, by noise %.3f px; corner alone %.3f, together %.3f px; %.0f of %d corners independent, "
        "photos disagree by %.2f; sigma of cx %.2f px, were corners independent %.2f\n",
        name.c_str(), trial.held_out_px, trial.by_noise_px, fit.noise_px, fit.together_px, fit.independent_corners,
        fit.corner_count, fit.disagreement, std::sqrt(fit.covariance(2, 2)), std::sqrt(fit.white_covariance(2, 2)));
    // The lens's own uncertainty is not in what noise foresees (3 % here), nor what it misses; and a root mean square
    // over 13 photos (5) of some ten smooth patterns each is itself known to 7 % (12 %): three of those.
    EXPECT_NEAR(trial.held_out_px / trial.by_noise_px, 1.03, name == "zhang" ? 0.36 : 0.21) << name;
    EXPECT_LT(fit.independent_corners, 0.6 * fit.corner_count) << name;
    // scatters by 0.10 over 13 photos, 0.15 over five, when drawn from the model: three of those
    EXPECT_NEAR(fit.disagreement, 1.0, name == "zhang" ? 0.45 : 0.3) << name;
  }
}

// A second derivation of the covariance, and the projection's uncertainty as an independent program (mrcal 2.2) states
// it for the same corners, all thirteen photos, five coefficients, a flat board.
TEST_P(PublishedCorners, ProjectionUncertainty) {
  const auto views = corner_views(GetParam().file);
  std::ifstream reference(kPublished + "mrcal_reference.csv");
  if (views.empty() || !reference) GTEST_SKIP() << "the published reference data are not beside this project";
  const LensFit fit = fit_radial(views, false);
  const MatrixXd j = whole_jacobian(fit);
  const double rms = fit.rms_px / std::sqrt(2.0);
  const MatrixXd inverse = inverse_normal(j);
  const double freedom = static_cast<double>(j.rows() - j.cols());
  EXPECT_NEAR(fit.sigma0_px, rms * std::sqrt(static_cast<double>(j.rows()) / freedom), 1e-9);
  for (Eigen::Index i = 0; i < 9; ++i) {
    EXPECT_NEAR(fit.white_covariance(i, i) / (fit.sigma0_px * fit.sigma0_px * inverse(i, i)), 1.0, 1e-6)
        << "parameter " << i;
  }
  const std::string side = std::string(GetParam().file).substr(7, GetParam().file[7] == 'l' ? 4 : 5);
  int compared = 0;
  std::string line;
  while (std::getline(reference, line)) {
    if (line.rfind(side + ",LENSMODEL_OPENCV5,0,", 0) != 0) continue;
    std::vector<std::string> cells;
    std::istringstream in(line);
    for (std::string cell; std::getline(in, cell, ',');) cells.push_back(cell);
    const Vector2d px(std::stod(cells[11]), std::stod(cells[12]));
    // that program takes the plain rms as the noise. It also damps its parameters a little, which shows only where the
    // picture was never covered: 10 % everywhere.
    EXPECT_NEAR(projection_sigma(fit, rms * rms * inverse, px, 0.0) / std::stod(cells[13]), 1.0, 0.1) << px.transpose();
    // 0.35 m in squares of 25 mm
    EXPECT_NEAR(projection_sigma(fit, rms * rms * inverse, px, 14.0) / std::stod(cells[14]), 1.0, 0.1)
        << px.transpose();
    ++compared;
  }
  EXPECT_EQ(compared, 7);
}

// A photo's pose through the fitted lens taken as exact: what the lens errs is the same in all photos.
Outcome<PoseFit> pose_of(const LensFit& fit, const PhotoFit& photo) {
  LensRecord lens;
  lens.lens = fit.lens;
  lens.covariance = MatrixXd::Zero(fit.lens.parameters.size(), fit.lens.parameters.size());
  lens.rms_px = fit.rms_px;
  lens.noise_px = fit.noise_px;
  lens.together_px = fit.together_px;
  BoardCorners corners;
  corners.board = {10, 7, 1.0};
  // the files' rows run down the print; a board's run up
  for (std::size_t row = 6; row-- > 0;)
    for (std::size_t column = 0; column < 9; ++column) corners.px.push_back(photo.points[row * 9 + column].px);
  return fit_pose_to_board(lens, corners, fit.lens.width_px, fit.lens.height_px, {});
}

// The same board seen by two cameras on one bar: the distance between the cameras comes out of each pair of photos, and
// scatters as the poses' covariance says.
TEST(Published, PairsOfCamerasScatterAsPromised) {
  const auto left_views = corner_views("opencv_left_corners_subpix5.csv");
  const auto right_views = corner_views("opencv_right_corners_subpix5.csv");
  if (left_views.empty() || right_views.empty())
    GTEST_SKIP() << "the published reference data are not beside this project";
  const LensFit left = fit_radial(left_views, false);
  const LensFit right = fit_radial(right_views, false);
  std::vector<double> distances;
  double promised = 0.0;
  for (std::size_t i = 0; i < left.photos.size(); ++i) {
    const auto a = pose_of(left, left.photos[i]);
    const auto b = pose_of(right, right.photos[i]);
    ASSERT_TRUE(a && b);
    const Rigid pose_a = a->camera.camera_from_bed;
    const Rigid pose_b = b->camera.camera_from_bed;
    const Vector3d bar = (pose_a * pose_b.inverse()).translation;
    distances.push_back(bar.norm());
    // centre of each camera in the board's frame, by its pose: c = -R^T t
    const Vector3d along_board = pose_a.rotation.transpose() * bar.normalized();
    for (const Camera& camera : {a->camera, b->camera}) {
      const Matrix3d& r = camera.camera_from_bed.rotation;
      Eigen::Matrix<double, 3, 6> by_pose;
      by_pose << -r.transpose() * cross_matrix(camera.camera_from_bed.translation), -r.transpose();
      const Eigen::RowVectorXd row = along_board.transpose() * by_pose;
      promised += (row * camera.covariance.bottomRightCorner<6, 6>() * row.transpose())(0, 0);
    }
  }
  const double n = static_cast<double>(distances.size());
  double mean = 0.0;
  for (const double d : distances) mean += d / n;
  double scatter = 0.0;
  for (const double d : distances) scatter += (d - mean) * (d - mean) / (n - 1.0);
  EXPECT_NEAR(mean, 3.329, 0.01);
  EXPECT_NEAR(std::sqrt(scatter), 0.021, 0.003);
  std::printf("distance of the cameras: scatter %.4f, promised %.4f squares\n", std::sqrt(scatter),
              std::sqrt(promised / n));
  // Twelve degrees of freedom: chi-square / 12 lies between 0.26 and 2.6 in 99 of 100 cases, so the standard
  // deviations' ratio between 0.5 and 1.6. Low is likelier: what the board itself does to its corners both cameras see
  // alike, and in their distance it cancels.
  EXPECT_GT(std::sqrt(scatter / (promised / n)), 0.5);
  EXPECT_LT(std::sqrt(scatter / (promised / n)), 1.6);
}

// OpenCV's test_fisheye: each of six views through its published lens, pose free.
TEST(Published, FisheyeViewsThroughTheirPublishedLens) {
  std::ifstream in(kPublished + "opencv_fisheye/left_views_0_5.csv");
  if (!in) GTEST_SKIP() << "the published reference data are not beside this project";
  std::map<int, std::vector<SeenPoint>> views;
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    std::istringstream cells(line);
    std::string cell;
    double v[7] = {};
    for (double& value : v) {
      std::getline(cells, cell, ',');
      value = std::stod(cell);
    }
    views[static_cast<int>(v[0])].push_back({{v[3], v[4], 0.0}, {v[5], v[6]}, 1.0});
  }
  ASSERT_EQ(views.size(), 6u);
  VectorXd p(8);
  p << 558.478087865323, 560.506767351568, 620.458515360843, 381.939424848348, -0.0014613319981768,
      -0.00329861110580401, 0.00605760088590183, -0.00374209380722371;
  const Lens lens = make_lens(LensModel::equidistant4, 1280, 800, p);
  const double expected[] = {0.41, 0.34, 0.31, 0.39, 0.37, 0.22};
  for (const auto& [view, points] : views) {
    const auto start = plane_pose_from_rays(lens, points);
    ASSERT_TRUE(start) << start.reason();
    const auto pose = refine_pose(lens, points, *start);
    ASSERT_TRUE(pose) << pose.reason();
    EXPECT_NEAR(pose->rms_px, expected[view], 0.005) << "view " << view;  // printed to two places
  }
}

}  // namespace
}  // namespace jigtrue
