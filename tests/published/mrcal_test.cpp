// The same corners calibrated by jigtrue and by mrcal (Debian: python3-mrcal), each from its own start: how surely each
// says that places of the picture are known. Skipped where mrcal is not installed.
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "calibration/synthetic.hpp"
#include "published/projection_sigma.hpp"
#include "published/published_corners.hpp"
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using namespace published;
using nlohmann::json;

// The system's own: packages do not install for others.
std::string python() {
  for (const char* name : {"/usr/bin/python3", "/usr/local/bin/python3"})
    if (std::filesystem::exists(name) &&
        std::system((std::string(name) + " -c 'import mrcal' 2>/dev/null").c_str()) == 0)
      return name;
  return {};
}

struct Corners {
  int width_px, height_px, columns, rows;
  std::vector<LensView> views;
  std::vector<Vector2d> asked_px;
};

// Fourteen boards of 9 x 6 corners, a tenth of a pixel of noise: no files needed.
Corners drawn_corners() {
  Corners corners{1600, 1200, 9, 6, {}, {}};
  for (const LensPhoto& photo : synthetic::make_scene(synthetic::barrel_lens(), 14, 0.1, 41).photos) {
    LensView view;
    view.file = photo.file;
    for (std::size_t j = 0; j < photo.corners->px.size(); ++j) {
      const std::size_t row = j / 9;
      view.points.push_back({{static_cast<double>(j % 9), static_cast<double>(row), 0.0}, photo.corners->px[j], 1.0});
    }
    corners.views.push_back(std::move(view));
  }
  corners.asked_px = {{800, 600}, {400, 300}, {1200, 900}, {75, 75}, {1525, 1125}, {800, 75}, {75, 600}};
  return corners;
}

Corners published_corners(const std::string& side) {
  Corners corners{640, 480, 9, 6, corner_views("opencv_" + side + "_corners_subpix5.csv"), {}};
  for (LensView& view : corners.views)
    std::sort(view.points.begin(), view.points.end(), [](const SeenPoint& a, const SeenPoint& b) {
      return std::pair(a.mm.y(), a.mm.x()) < std::pair(b.mm.y(), b.mm.x());
    });
  corners.asked_px = {{320, 240}, {160, 120}, {480, 360}, {30, 30}, {610, 450}, {320, 30}, {30, 240}};
  return corners;
}

// Infinity, and a distance at which boards were seen, in squares.
const std::vector<double> kDistances = {0.0, 14.0};

json by_mrcal(const std::string& interpreter, const Corners& corners) {
  json given = {{"image_size_px", {corners.width_px, corners.height_px}},
                {"columns", corners.columns},
                {"rows", corners.rows},
                {"spacing", 1.0},
                {"distances", kDistances}};
  for (const Vector2d& px : corners.asked_px) given["pixels"].push_back({px.x(), px.y()});
  for (const LensView& view : corners.views) {
    json points = json::array();
    for (const SeenPoint& p : view.points) points.push_back({p.px.x(), p.px.y()});
    given["views"].push_back(points);
  }
  const test::TemporaryFolder folder;
  const auto at = [&](const char* name) { return (folder / name).string(); };
  std::ofstream(at("in.json")) << given;
  const std::string run = interpreter + " '" + JIGTRUE_SOURCE_DIR + "/tests/published/mrcal_uncertainty.py' < '" +
                          at("in.json") + "' > '" + at("out.json") + "' 2> '" + at("err.txt") + "'";
  if (std::system(run.c_str()) != 0) {
    std::ifstream err(at("err.txt"));
    ADD_FAILURE() << std::string(std::istreambuf_iterator<char>(err), {});
    return {};
  }
  std::ifstream out(at("out.json"));
  return json::parse(out);
}

class MrcalRun : public testing::TestWithParam<const char*> {};

TEST_P(MrcalRun, StatesTheSameProjectionUncertainty) {
  const std::string name = GetParam();
  const Corners corners = name == "drawn" ? drawn_corners() : published_corners(name);
  if (corners.views.empty()) GTEST_SKIP() << "the published reference data are not beside this project";
  const std::string interpreter = python();
  if (interpreter.empty()) GTEST_SKIP() << "mrcal (python3-mrcal) is not installed";
  const json mrcal = by_mrcal(interpreter, corners);
  ASSERT_TRUE(mrcal.contains("sigma_px"));

  LensFitOptions options;
  options.model = LensModel::radial5;
  options.leave_out_corners = false;
  const LensFit fit = fit_lens_to_views(corners.views, corners.width_px, corners.height_px, options);
  const double rms = fit.rms_px / std::sqrt(2.0);
  EXPECT_NEAR(mrcal["rms_px"].get<double>(), rms, 1e-4 * rms);
  // both are at the one minimum; its bottom is flat, so parameters are compared by what they are known to
  const std::vector<double> parameters = mrcal["parameters"];
  for (Eigen::Index i = 0; i < 9; ++i)
    EXPECT_NEAR(parameters[static_cast<std::size_t>(i)], fit.lens.parameters[i],
                0.02 * std::sqrt(fit.white_covariance(i, i)))
        << "parameter " << i;
  const MatrixXd covariance = rms * rms * inverse_normal(whole_jacobian(fit));
  double farthest = 0.0;
  for (std::size_t i = 0; i < corners.asked_px.size(); ++i)
    for (std::size_t k = 0; k < kDistances.size(); ++k) {
      const double ours = projection_sigma(fit, covariance, corners.asked_px[i], kDistances[k]);
      const double theirs = mrcal["sigma_px"][i][k];
      farthest = std::max(farthest, std::abs(ours / theirs - 1.0));
      // one formula at one minimum: apart only by where each stopped short of it, hundredths of a sigma as above
      EXPECT_NEAR(ours / theirs, 1.0, 1e-3) << corners.asked_px[i].transpose() << " at " << kDistances[k];
    }
  std::printf("%s: mrcal and jigtrue differ by %.5f %% at most over %zu places\n", name.c_str(), 100.0 * farthest,
              corners.asked_px.size() * kDistances.size());
}
INSTANTIATE_TEST_SUITE_P(Corners, MrcalRun, testing::Values("drawn", "left", "right"),
                         [](const auto& param) { return std::string(param.param); });

}  // namespace
}  // namespace jigtrue
