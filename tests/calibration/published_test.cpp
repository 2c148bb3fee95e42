// Published calibrations, computed again from their published points. The data lie beside the project, not in it; where
// they are absent these tests are skipped.
#include "jigtrue/calibration/lens_fit.hpp"

#include <cmath>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

const std::string kPublished = std::string(JIGTRUE_SOURCE_DIR) + "/../shared/published/";

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

// Corner files: "image,col,row,x_px,y_px", board of squares of size 1.
std::vector<LensView> corner_views(const std::string& name) {
  std::ifstream in(kPublished + name);
  std::map<std::string, LensView> by_image;
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    std::istringstream cells(line);
    std::string image;
    std::string cell;
    std::getline(cells, image, ',');
    double v[4] = {0, 0, 0, 0};
    for (double& value : v) {
      std::getline(cells, cell, ',');
      value = std::stod(cell);
    }
    by_image[image].file = image;
    by_image[image].points.push_back({{v[0], v[1], 0.0}, {v[2], v[3]}, 1.0});
  }
  std::vector<LensView> views;
  for (auto& [image, view] : by_image) views.push_back(std::move(view));
  return views;
}

LensFit fit_radial(const std::vector<LensView>& views, bool leave_out_corners = true) {
  LensFitOptions options;
  options.model = LensModel::radial5;
  options.leave_out_corners = leave_out_corners;
  return fit_lens_to_views(views, 640, 480, options);
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
  // Zhang's sigmas (with skew, 2 n - p degrees of freedom; PAMI 22(11) 2000, table 1): alpha 1.41, beta 1.38, u0 0.71,
  // v0 0.66. Skew is all but independent of these: 3 %.
  EXPECT_NEAR(std::sqrt(fit.covariance(0, 0)), 1.41, 0.045);
  EXPECT_NEAR(std::sqrt(fit.covariance(1, 1)), 1.38, 0.045);
  EXPECT_NEAR(std::sqrt(fit.covariance(2, 2)), 0.71, 0.025);
  EXPECT_NEAR(std::sqrt(fit.covariance(3, 3)), 0.66, 0.025);
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
