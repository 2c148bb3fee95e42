#include "jigtrue/calibration/map_uncertainty.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/calibration/pose_fit.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "support/seeded_by_name.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <random>
#include <sstream>

#include "calibration/synthetic.hpp"
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

// The share of a normal distribution with these two sigmas inside a circle of that radius, by Simpson's rule: strips
// across the long axis, each with its closed integral; x = r sin t keeps the ends smooth.
double share_inside(double radius, double small, double large) {
  const auto strip = [&](double t) {
    const double x = radius * std::sin(t) / large;
    const double half = radius * std::cos(t);
    const double across = small > 0.0 ? std::erf(half / (std::sqrt(2.0) * small)) : 1.0;
    return std::exp(-0.5 * x * x) / std::sqrt(2.0 * kPi) * across * half / large;
  };
  constexpr int kSteps = 4000;
  const double step = kPi / kSteps;
  double sum = strip(-kPi / 2.0) + strip(kPi / 2.0);
  for (int i = 1; i < kSteps; ++i) sum += (i % 2 == 1 ? 4.0 : 2.0) * strip(-kPi / 2.0 + i * step);
  return sum * step / 3.0;
}

double exact_radius_95(double small, double large) {
  double low = 1.5 * large;
  double high = 3.0 * large;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2.0;
    (share_inside(middle, small, large) < 0.95 ? low : high) = middle;
  }
  return low;
}

TEST(Radius95, KeepsWithinWhatItClaimsOfTheExactIntegral) {
  // closed forms first, so that the integral itself is checked: sqrt(-2 ln 0.05) and the normal's 97.5 % quantile
  EXPECT_NEAR(exact_radius_95(1.0, 1.0), std::sqrt(-2.0 * std::log(0.05)), 1e-9);
  EXPECT_NEAR(exact_radius_95(0.0, 1.0), 1.959963984540054, 1e-9);
  double worst = 0.0;
  for (int i = 0; i <= 100; ++i) {
    const double small = 0.03 * i / 100.0;
    Matrix2d covariance = Vector2d(small * small, 0.03 * 0.03).asDiagonal();
    const Matrix2d turn = Eigen::Rotation2Dd(0.1 * i).toRotationMatrix();
    covariance = turn * covariance * turn.transpose();
    worst = std::max(worst, std::abs(radius_95(covariance) / exact_radius_95(small, 0.03) - 1.0));
  }
  EXPECT_LT(worst, 5e-4);  // as the header says
  EXPECT_EQ(radius_95(Matrix2d::Zero()), 0.0);
}

BoardPlacement board_on_bed() {
  BoardPlacement placement;
  placement.x_mm = 95;
  placement.y_mm = 120;
  placement.angle_deg = 12;
  placement.height_mm = 3;
  return placement;
}

// Looks at the board's middle from 430 mm away.
Camera camera_above(const Lens& lens) {
  Matrix3d down;
  down << 1, 0, 0, 0, -1, 0, 0, 0, -1;
  Camera above{lens, {rotation_from_vector({0.25, 0.12, -0.3}) * down, Vector3d::Zero()}, {}};
  above.camera_from_bed.translation = Vector3d(0, 0, 430) - above.camera_from_bed.rotation * Vector3d(205, 210, 3);
  return above;
}

BoardCorners board_seen(const Camera& camera, const BoardPlacement& placement) {
  BoardCorners corners;
  corners.board = synthetic::kBoard;
  for (int j = 0; j < 54; ++j) {
    corners.px.push_back(
        *project_bed_point(camera, bed_from_board(placement) * synthetic::kBoard.corner_mm(j % 9, j / 9)));
    corners.sigma_px.push_back(0.1);
  }
  return corners;
}

// A camera fitted to one noisy photo of the board through a lens fitted to a dozen noisy photos: covariances as they
// come.
CameraRecord fitted_camera(const Lens& lens, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  const auto scene = synthetic::make_scene(lens, 12, 0.1, static_cast<unsigned>(random()));
  LensFitOptions options;
  options.model = lens.model;
  const LensFit fit = fit_lens(scene.photos, options);
  CameraRecord record;
  record.lens = lens_record(fit, options, {synthetic::kBoard, "", ""});
  BoardPlacement placement = board_on_bed();
  placement.xy_sigma_mm = 0.02;
  BoardCorners corners = board_seen(camera_above(lens), placement);
  for (Vector2d& px : corners.px) px += 0.1 * Vector2d(normal(random), normal(random));
  const auto pose = fit_pose_to_board(record.lens, corners, lens.width_px, lens.height_px, placement);
  if (!pose) throw std::logic_error(pose.reason());
  record.camera = pose->camera;
  return record;
}

// Matrix square root of a covariance, to draw with.
MatrixXd root_of(const MatrixXd& covariance) {
  const VectorXd sigma = covariance.diagonal().cwiseSqrt();
  const VectorXd scale = sigma.cwiseInverse();
  const SymmetricEigen axes = symmetric_eigen(scale.asDiagonal() * covariance * scale.asDiagonal()).value();
  return sigma.asDiagonal() * axes.vectors * axes.values.cwiseMax(0.0).cwiseSqrt().asDiagonal();
}

VectorXd standard_normal(Eigen::Index n, std::mt19937_64& random) {
  std::normal_distribution<double> normal;
  VectorXd v(n);
  for (double& x : v) x = normal(random);
  return v;
}

Camera moved(const Camera& camera, const VectorXd& by) {
  Camera other = camera;
  const Eigen::Index n = camera.lens.parameters.size();
  other.lens.parameters += by.head(n);
  other.camera_from_bed.rotation = rotation_from_vector(by.segment<3>(n)) * other.camera_from_bed.rotation;
  other.camera_from_bed.translation += by.tail<3>();
  return other;
}

struct Place {
  Vector2d px;
  double height_mm;
};
const std::vector<Place> kPlaces = {{{800, 600}, 0.0}, {{250, 300}, 0.0}, {{1300, 900}, 14.0}, {{500, 1000}, 30.0}};

// Whatever the seed, the scene can be set up: the tests below do not hang on a lucky one.
TEST(MapPointSlow, AnySeedGivesACamera) {
  std::mt19937_64 random = test::seeded_by_name();
  for (int i = 0; i < 20; ++i)
    for (const Lens& lens : {synthetic::barrel_lens(), synthetic::wide_lens()})
      EXPECT_NO_THROW((void)fitted_camera(lens, random())) << i;
}

class MapPoint : public testing::TestWithParam<int> {
 protected:
  static Lens lens() { return GetParam() == 0 ? synthetic::barrel_lens() : synthetic::wide_lens(); }
};

// What map_point promises of a pixel must be what cameras drawn from the camera's own covariance do to it.
TEST_P(MapPoint, CovarianceAndRadiusHoldForDrawnCameras) {
  CameraRecord record = fitted_camera(lens(), test::seed_by_name());
  record.lens.model_error_px = 0.0;
  const MatrixXd root = root_of(record.camera.covariance);
  auto random = test::seeded_by_name();
  constexpr int kTrials = 3000;
  std::vector<Matrix2d> scatter(kPlaces.size(), Matrix2d::Zero());
  std::vector<int> inside(kPlaces.size(), 0);
  std::vector<MappedPoint> promised;
  for (const Place& place : kPlaces) {
    const auto point = map_point(record, place.px, place.height_mm);
    ASSERT_TRUE(point);
    promised.push_back(*point);
  }
  for (int trial = 0; trial < kTrials; ++trial) {
    const Camera drawn = moved(record.camera, root * standard_normal(root.cols(), random));
    for (std::size_t k = 0; k < kPlaces.size(); ++k) {
      const auto point = bed_point_at(drawn, kPlaces[k].px, kPlaces[k].height_mm);
      ASSERT_TRUE(point);
      const Vector2d error = point->mm - promised[k].bed_mm;
      scatter[k] += error * error.transpose() / kTrials;
      if (error.norm() <= radius_95(promised[k].covariance_mm2)) ++inside[k];
    }
  }
  for (std::size_t k = 0; k < kPlaces.size(); ++k) {
    SCOPED_TRACE("place " + std::to_string(k));
    // In axes in which the promise is a unit circle the scatter must be one too. An element of a covariance from n
    // samples has a standard deviation of sqrt(2 / n) on the diagonal, sqrt(1 / n) off it; four and a half of those.
    const MatrixXd circle = cholesky_factor(promised[k].covariance_mm2).value();
    const MatrixXd unit = solve_lower(circle, solve_lower(circle, scatter[k]).transpose());
    EXPECT_NEAR(unit(0, 0), 1.0, 4.5 * std::sqrt(2.0 / kTrials));
    EXPECT_NEAR(unit(1, 1), 1.0, 4.5 * std::sqrt(2.0 / kTrials));
    EXPECT_NEAR(unit(0, 1), 0.0, 4.5 * std::sqrt(1.0 / kTrials));
    const double coverage = static_cast<double>(inside[k]) / kTrials;
    EXPECT_GE(coverage, 0.93);  // its own standard deviation is 0.4 %
    EXPECT_LE(coverage, 0.97);
    EXPECT_GE(promised[k].radius_95_mm, radius_95(promised[k].covariance_mm2));  // the lens's error on top
    std::printf("lens %d place %zu: radius %.4f mm, coverage %.2f %%\n", GetParam(), k,
                radius_95(promised[k].covariance_mm2), 100.0 * coverage);
  }
}

// The lens's error, shared by a whole picture, is of unknown direction at any one pixel: with it drawn as one, the
// wider radius covers as promised.
TEST_P(MapPoint, RadiusAllowsForTheModelsError) {
  CameraRecord record = fitted_camera(lens(), test::seed_by_name());
  record.lens.model_error_px = 0.35;  // distance; one axis 0.35 / sqrt(2)
  const MatrixXd root = root_of(record.camera.covariance);
  auto random = test::seeded_by_name();
  constexpr int kTrials = 3000;
  for (const Place& place : kPlaces) {
    const auto promised = map_point(record, place.px, place.height_mm);
    ASSERT_TRUE(promised);
    int inside = 0;
    for (int trial = 0; trial < kTrials; ++trial) {
      const Camera drawn = moved(record.camera, root * standard_normal(root.cols(), random));
      const Vector2d missed = 0.35 / std::sqrt(2.0) * standard_normal(2, random);
      const auto point = bed_point_at(drawn, place.px + missed, place.height_mm);
      ASSERT_TRUE(point);
      if ((point->mm - promised->bed_mm).norm() <= promised->radius_95_mm) ++inside;
    }
    EXPECT_NEAR(static_cast<double>(inside) / kTrials, 0.95, 0.02);
    EXPECT_GT(promised->lens_error_mm, 0.0);
  }
}

TEST_P(MapPoint, SharesOfLensAndPoseAddUp) {
  const CameraRecord record = fitted_camera(lens(), test::seed_by_name());
  const Eigen::Index n = record.camera.lens.parameters.size();
  const MatrixXd& joint = record.camera.covariance;
  // the pose's covariance once the lens is known exactly (the conditional normal distribution)
  MatrixXd known_lens = MatrixXd::Zero(n + 6, n + 6);
  known_lens.bottomRightCorner<6, 6>() =
      joint.bottomRightCorner<6, 6>() -
      joint.bottomLeftCorner(6, n) * joint.topLeftCorner(n, n).fullPivLu().solve(MatrixXd(joint.topRightCorner(n, 6)));
  CameraRecord conditional = record;
  conditional.camera.covariance = known_lens;
  for (const Place& place : kPlaces) {
    const auto whole = map_point(record, place.px, place.height_mm);
    const auto pose_only = map_point(conditional, place.px, place.height_mm);
    ASSERT_TRUE(whole && pose_only);
    const double size = whole->covariance_mm2.trace();
    EXPECT_LT((whole->lens_share_mm2 + whole->pose_share_mm2 - whole->covariance_mm2).norm(), 1e-12 * size);
    // the two ways differ by the inverse's rounding: the correlations' smallest eigenvalues are some 1e-8
    EXPECT_LT((whole->pose_share_mm2 - pose_only->covariance_mm2).norm(), 1e-4 * size);
    EXPECT_GT(symmetric_eigenvalues(whole->lens_share_mm2)[0], -1e-9 * size);
    EXPECT_GT(symmetric_eigenvalues(whole->pose_share_mm2)[0], -1e-4 * size);
  }
}

// Terms held at zero have no variance; the rest of the lens still has its share.
TEST_P(MapPoint, ParametersWithoutVarianceDoNotUpsetTheShares) {
  CameraRecord record = fitted_camera(lens(), test::seed_by_name());
  const Eigen::Index n = record.camera.lens.parameters.size();
  record.camera.covariance.row(n - 1).setZero();
  record.camera.covariance.col(n - 1).setZero();
  const auto point = map_point(record, {500, 400}, 0.0);
  ASSERT_TRUE(point);
  EXPECT_TRUE(point->lens_share_mm2.allFinite());
  EXPECT_GT(point->lens_share_mm2.trace(), 0.0);
  record.camera.covariance.topRows(n).setZero();
  record.camera.covariance.leftCols(n).setZero();
  const auto sure = map_point(record, {500, 400}, 0.0);
  ASSERT_TRUE(sure);
  EXPECT_EQ(sure->lens_share_mm2.norm(), 0.0);
  EXPECT_LT((sure->pose_share_mm2 - sure->covariance_mm2).norm(), 1e-15);
}

INSTANTIATE_TEST_SUITE_P(Lenses, MapPoint, testing::Values(0, 1));

TEST(MapPointOutside, HasNothing) {
  const CameraRecord record = fitted_camera(synthetic::barrel_lens(), test::seed_by_name());
  EXPECT_FALSE(map_point(record, {-1.0, 500.0}, 0.0));
  EXPECT_FALSE(map_point(record, {1600.0, 500.0}, 0.0));
  EXPECT_FALSE(map_point(record, {800.0, 500.0}, 1000.0));  // above the camera
  EXPECT_FALSE(map_point(record, {800.0, 500.0}, std::nan("")));
}

// --- photos with known truth, where they are at hand ---

struct Truth {
  Vector2d px;
  Vector2d bed_mm;
  double height_mm;
};
std::vector<Truth> read_truth(const std::filesystem::path& file) {
  std::istringstream lines(read_text_file(file));
  std::string line;
  std::getline(lines, line);
  std::vector<Truth> truth;
  while (std::getline(lines, line)) {
    std::replace(line.begin(), line.end(), ',', ' ');
    std::istringstream values(line);
    Truth t;
    if (values >> t.px.x() >> t.px.y() >> t.bed_mm.x() >> t.bed_mm.y() >> t.height_mm) truth.push_back(t);
  }
  return truth;
}

CameraRecord calibrated(const std::filesystem::path& folder) {
  const auto declared = nlohmann::json::parse(read_text_file(folder / "board.json"));
  const BoardSpec board{declared["squares"][0], declared["squares"][1], declared["square_mm"]};
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder / "lens")) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  std::vector<LensPhoto> photos;
  for (const auto& file : files) {
    const Photo photo = read_photo(file, PhotoColour::luma_only);
    photos.push_back({file.filename().string(), photo.width_px(), photo.height_px(), find_board(photo.luma, board)});
  }
  CameraRecord record;
  record.lens = lens_record(fit_lens(photos), {}, {board, "", ""});
  const Photo flat = read_photo(folder / "pose.jpg", PhotoColour::luma_only);
  BoardPlacement placement;
  placement.x_mm = declared["pose"]["x_mm"];
  placement.y_mm = declared["pose"]["y_mm"];
  placement.angle_deg = declared["pose"]["angle_deg"];
  placement.height_mm = declared["pose"]["height_mm"];
  const auto pose =
      fit_pose_to_board(record.lens, *find_board(flat.luma, board), flat.width_px(), flat.height_px(), placement);
  record.camera = pose->camera;
  return record;
}

// The predicted map errors at all places together: joint draws of lens, pose and model error.
class PredictedErrors {
 public:
  PredictedErrors(const CameraRecord& record, const std::vector<Truth>& places) {
    const MatrixXd root = root_of(record.camera.covariance);
    for (const Truth& place : places) {
      const auto there =
          project_bed_point_with_jacobian(record.camera, {place.bed_mm.x(), place.bed_mm.y(), place.height_mm});
      const Matrix2d bed_from_px = there->by_bed_point.leftCols<2>().inverse();
      by_draw_.emplace_back(bed_from_px * there->by_camera * root);
      by_model_.emplace_back(record.lens.model_error_px / std::sqrt(2.0) * bed_from_px);
    }
  }
  // mm, at each place; the lens's error is drawn as one shift of the whole picture
  std::vector<double> draw(std::mt19937_64& random) const {
    const VectorXd z = standard_normal(by_draw_.front().cols(), random);
    const VectorXd shift = standard_normal(2, random);
    std::vector<double> errors;
    for (std::size_t i = 0; i < by_draw_.size(); ++i) errors.push_back((by_draw_[i] * z + by_model_[i] * shift).norm());
    return errors;
  }

 private:
  std::vector<Eigen::Matrix<double, 2, Eigen::Dynamic>> by_draw_;
  std::vector<Matrix2d> by_model_;
};

struct AgainstRadius {
  double share_inside = 0.0;
  double middle = 0.0;  // median of error over radius
};
AgainstRadius against(const std::vector<double>& errors_mm, const std::vector<double>& radii_mm) {
  AgainstRadius result;
  std::vector<double> ratios;
  for (std::size_t i = 0; i < errors_mm.size(); ++i) {
    ratios.push_back(errors_mm[i] / radii_mm[i]);
    if (ratios.back() <= 1.0) result.share_inside += 1.0 / static_cast<double>(errors_mm.size());
  }
  std::nth_element(ratios.begin(), ratios.begin() + static_cast<std::ptrdiff_t>(ratios.size() / 2), ratios.end());
  result.middle = ratios[ratios.size() / 2];
  return result;
}

std::filesystem::path camera_folder(const std::string& name) {
  const std::filesystem::path source = JIGTRUE_SOURCE_DIR;
  if (name == "attic") return source / "fixtures/demo/cameras/attic";
  if (name == "nook") return source / "tests/scenes/small/cameras/nook";
  return source / "../shared/scenes/cameras" / name;
}

class MapTruthSlow : public testing::TestWithParam<std::string> {};

// One calibration is one draw: its lens and pose move all places together, so the share of places inside the radius
// scatters far more than independent places' would. What the prediction itself makes of that is drawn, and the share
// met, and the errors' size against the radius, must be ordinary among the draws: not in the lowest nor, for the size,
// the highest hundredth. Too narrow a radius fails the first, too wide a one the last.
TEST_P(MapTruthSlow, RadiusHoldsAgainstTheTruth) {
  const std::string name = GetParam();
  const std::filesystem::path folder = camera_folder(name);
  if (!std::filesystem::exists(folder)) GTEST_SKIP() << folder << " is not here";
  const CameraRecord record = calibrated(folder);
  auto random = test::seeded_by_name();
  for (const double height : {0.0, 15.0}) {
    std::vector<Truth> places;
    std::vector<double> errors;
    std::vector<double> radii;
    for (const Truth& truth : read_truth(folder / "map_truth.csv")) {
      if (truth.height_mm != height) continue;
      const auto point = map_point(record, truth.px, height);
      if (!point) continue;  // outside the picture
      places.push_back(truth);
      errors.push_back((point->bed_mm - truth.bed_mm).norm());
      radii.push_back(point->radius_95_mm);
    }
    ASSERT_GT(errors.size(), 50u);
    const AgainstRadius met = against(errors, radii);
    const PredictedErrors predicted(record, places);
    constexpr int kDraws = 2000;
    int share_as_low = 0;
    int size_as_large = 0;
    double mean_share = 0.0;
    for (int i = 0; i < kDraws; ++i) {
      const AgainstRadius drawn = against(predicted.draw(random), radii);
      if (drawn.share_inside <= met.share_inside) ++share_as_low;
      if (drawn.middle >= met.middle) ++size_as_large;
      mean_share += drawn.share_inside / kDraws;
    }
    std::sort(errors.begin(), errors.end());
    std::sort(radii.begin(), radii.end());
    std::printf(
        "%s (%s), height %2.0f mm: error median %.4f p95 %.4f mm; u_mm median %.4f; median error / radius %.2f; inside "
        "%.0f %% of %zu; as low in %.0f %% of draws, as large in %.0f %%\n",
        name.c_str(), to_string(record.lens.lens.model), height, errors[errors.size() / 2],
        errors[errors.size() * 95 / 100], radii[radii.size() / 2], met.middle, 100.0 * met.share_inside, errors.size(),
        100.0 * share_as_low / kDraws, 100.0 * size_as_large / kDraws);
    EXPECT_NEAR(mean_share, 0.95, 0.02);
    EXPECT_GE(share_as_low, kDraws / 100);
    EXPECT_GE(size_as_large, kDraws / 100);
    EXPECT_LE(size_as_large, kDraws - kDraws / 100);
  }
}
INSTANTIATE_TEST_SUITE_P(Cameras, MapTruthSlow, testing::Values("k08", "w05", "attic", "nook"),
                         [](const auto& chosen) { return chosen.param; });

// --- the whole way, many times over ---

// Photos drawn from the model of corner errors, a lens fitted to eight of them, a pose to one more, a point mapped: the
// radius that this one calibration states must hold the truth 95 times in 100, whether corners err alone or together.
TEST(MapCoverageSlow, RadiusOfAWholeCalibrationHoldsTheTruth) {
  auto random = test::seeded_by_name();
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = camera_above(lens);
  const BoardPlacement placement = board_on_bed();
  LensFitOptions options;
  options.model = lens.model;
  constexpr int kTrials = 340;
  double inside_all = 0.0;
  const std::vector<double> ratios{0.0, 1.0, 2.0};  // of what corners err together to what they err alone
  for (const double ratio : ratios) {
    const synthetic::ErrorSource source({0.06, 0.06 * ratio});
    std::vector<int> inside(kPlaces.size(), 0);
    std::vector<Matrix2d> scatter(kPlaces.size(), Matrix2d::Zero());
    std::vector<Matrix2d> promised(kPlaces.size(), Matrix2d::Zero());
    for (int trial = 0; trial < kTrials; ++trial) {
      const auto scene = synthetic::make_scene(lens, 8, 0.0, static_cast<unsigned>(random()));
      CameraRecord record;
      record.lens = lens_record(fit_lens(source.photos(scene, random), options), options, {synthetic::kBoard, "", ""});
      BoardCorners corners = board_seen(camera, placement);
      source.add(corners.px, random);
      const auto pose = fit_pose_to_board(record.lens, corners, lens.width_px, lens.height_px, placement);
      ASSERT_TRUE(pose) << pose.reason();
      record.camera = pose->camera;
      for (std::size_t k = 0; k < kPlaces.size(); ++k) {
        const auto point = map_point(record, kPlaces[k].px, kPlaces[k].height_mm);
        ASSERT_TRUE(point);
        const Vector2d error = point->bed_mm - bed_point_at(camera, kPlaces[k].px, kPlaces[k].height_mm)->mm;
        if (error.norm() <= point->radius_95_mm) ++inside[k];
        scatter[k] += error * error.transpose() / kTrials;
        promised[k] += point->covariance_mm2 / kTrials;
      }
    }
    double inside_here = 0.0;
    for (std::size_t k = 0; k < kPlaces.size(); ++k) {
      const double share = static_cast<double>(inside[k]) / kTrials;
      inside_here += share / static_cast<double>(kPlaces.size());
      const double sizes = std::sqrt(scatter[k].trace() / promised[k].trace());
      std::printf("together / alone %.0f, place %zu: inside %.1f %%, error %.3f mm (rms), promised %.3f mm\n", ratio, k,
                  100.0 * share, std::sqrt(scatter[k].trace()), std::sqrt(promised[k].trace()));
      // a root mean square of 340 two-dimensional errors, nearly along a line, is known to 1 / sqrt(680) = 3.8 %; three
      // and a half of those about the 4 % by which chance contradictions between photos widen the promise
      EXPECT_NEAR(sizes, 0.96, 0.135) << "ratio " << ratio << " place " << k;
    }
    inside_all += inside_here / static_cast<double>(ratios.size());
    // 340 trials of four places that move together: 1.2 % is its standard deviation; two and a half of those
    EXPECT_GE(inside_here, 0.93 - 0.01) << ratio;
    EXPECT_LE(inside_here, 0.97 + 0.01) << ratio;
  }
  std::printf("inside in all: %.2f %%\n", 100.0 * inside_all);
  EXPECT_GE(inside_all, 0.93);
  EXPECT_LE(inside_all, 0.97);
}

}  // namespace
}  // namespace jigtrue
