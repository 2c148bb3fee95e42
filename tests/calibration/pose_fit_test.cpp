#include "jigtrue/calibration/pose_fit.hpp"

#include <cmath>
#include <random>

#include "calibration/synthetic.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// A lens known to within what a dozen photos leave open: relative 1e-4 in focal length, some 0.3 px in the centre.
LensRecord known_lens(const Lens& lens, double uncertainty = 1.0) {
  LensRecord record;
  record.lens = lens;
  record.rms_px = 0.08;
  record.sigma0_px = 0.06;
  record.noise_px = 0.06;
  const Eigen::Index n = lens.parameters.size();
  VectorXd sigma = VectorXd::Constant(n, 1e-4);
  sigma.head<4>() << 0.15, 0.15, 0.3, 0.3;
  record.covariance = MatrixXd((uncertainty * sigma).array().square().matrix().asDiagonal());
  return record;
}

BoardPlacement placement() {
  BoardPlacement p;
  p.x_mm = 95;
  p.y_mm = 120;
  p.angle_deg = 12;
  p.height_mm = 3;
  return p;
}

BoardCorners see_board(const Camera& camera, const BoardPlacement& at, double noise_px, std::mt19937& random) {
  std::normal_distribution<double> normal;
  BoardCorners corners;
  corners.board = synthetic::kBoard;
  for (int j = 0; j < 54; ++j) {
    const auto px = project_bed_point(camera, bed_from_board(at) * synthetic::kBoard.corner_mm(j % 9, j / 9));
    corners.px.push_back(*px + noise_px * Vector2d(normal(random), normal(random)));
    corners.sigma_px.push_back(0.05);
  }
  return corners;
}

TEST(PoseFit, PlacementIsAFrame) {
  const Rigid bed = bed_from_board(placement());
  EXPECT_LT((bed * Vector3d::Zero() - Vector3d(95, 120, 3)).norm(), 1e-12);
  EXPECT_LT((bed * Vector3d(100, 0, 0) -
             Vector3d(95 + 100 * std::cos(rad_from_deg(12)), 120 + 100 * std::sin(rad_from_deg(12)), 3))
                .norm(),
            1e-10);
}

TEST(PoseFit, ExactCornersGiveTheCameraBack) {
  std::mt19937 random(31);
  for (const Lens& lens : {synthetic::barrel_lens(), synthetic::wide_lens()}) {
    const Camera camera = synthetic::overhead_camera(lens);
    const auto fit =
        fit_pose_to_board(known_lens(lens), see_board(camera, placement(), 0.0, random), 1600, 1200, placement());
    ASSERT_TRUE(fit) << fit.reason();
    EXPECT_LT((fit->camera.centre_mm() - camera.centre_mm()).norm(), 1e-6);
    EXPECT_LT((fit->camera.camera_from_bed.rotation - camera.camera_from_bed.rotation).norm(), 1e-9);
    EXPECT_LT(fit->rms_px, 1e-8);
  }
}

TEST(PoseFit, ExactMarksGiveTheCameraBack) {
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = synthetic::overhead_camera(lens);
  std::vector<PlacedMark> marks;
  for (const Vector3d& mm : {Vector3d(40, 60, 0), Vector3d(330, 55, 0), Vector3d(50, 320, 12), Vector3d(320, 330, 12),
                             Vector3d(190, 190, 5)}) {
    marks.push_back({mm, *project_bed_point(camera, mm), 0.05});
  }
  const auto fit = fit_pose_to_marks(known_lens(lens), marks, 1600, 1200);
  ASSERT_TRUE(fit) << fit.reason();
  EXPECT_LT((fit->camera.centre_mm() - camera.centre_mm()).norm(), 1e-6);
}

TEST(PoseFit, RefusalsSayWhy) {
  std::mt19937 random(32);
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = synthetic::overhead_camera(lens);
  const LensRecord known = known_lens(lens);
  const BoardCorners corners = see_board(camera, placement(), 0.05, random);

  EXPECT_NE(fit_pose_to_board(known, corners, 1200, 1600, placement()).reason().find("calibrated for 1600 x 1200"),
            std::string::npos);

  // the same board through another lens
  Lens other = lens;
  other.parameters[4] = 0.1;
  const auto wrong = fit_pose_to_board(known_lens(other), corners, 1600, 1200, placement());
  EXPECT_NE(wrong.reason().find("another lens"), std::string::npos) << wrong.reason();

  BoardPlacement sunk = placement();
  sunk.height_mm = -900;
  EXPECT_NE(fit_pose_to_board(known, corners, 1600, 1200, sunk).reason().find("below the bed"), std::string::npos);

  // columns read from the wrong end: a mirror image
  BoardCorners mirrored = corners;
  for (int j = 0; j < 54; ++j)
    mirrored.px[static_cast<std::size_t>(j)] = corners.px[static_cast<std::size_t>(j / 9 * 9 + 8 - j % 9)];
  EXPECT_NE(fit_pose_to_board(known, mirrored, 1600, 1200, placement()).reason().find("mirrored"), std::string::npos);
}

// A board looks the same in a mirror; the lens does not. Seen through one whose axis stands 12 px off the middle the
// photo is refused, through one in the very middle it cannot be told (marks on the bed tell it then).
TEST(PoseFit, AMirroredPhotoIsToldByItsLens) {
  std::mt19937 random(36);
  for (const double off_px : {12.0, 0.0}) {
    Lens lens = synthetic::barrel_lens();
    lens.parameters.segment<2>(2) << 799.5 + off_px, 599.5;
    lens.parameters.segment<2>(6).setZero();
    const BoardCorners straight = see_board(synthetic::overhead_camera(lens), placement(), 0.02, random);
    EXPECT_TRUE(fit_pose_to_board(known_lens(lens), straight, 1600, 1200, placement()));
    BoardCorners in_mirror = straight;
    for (std::size_t row = 0; row < 6; ++row)
      for (std::size_t column = 0; column < 9; ++column) {
        const Vector2d& px = straight.px[(5 - row) * 9 + column];
        in_mirror.px[row * 9 + column] = {1599.0 - px.x(), px.y()};
      }
    const auto fit = fit_pose_to_board(known_lens(lens), in_mirror, 1600, 1200, placement());
    EXPECT_EQ(fit.ok(), off_px == 0.0);
    if (!fit) {
      EXPECT_NE(fit.reason().find("seems to be mirrored"), std::string::npos) << fit.reason();
    }
  }
}

TEST(PoseFit, MarksInALineOrTooFewAreRefused) {
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = synthetic::overhead_camera(lens);
  const auto marks_at = [&](const std::vector<Vector3d>& places) {
    std::vector<PlacedMark> marks;
    marks.reserve(places.size());
    for (const Vector3d& mm : places) marks.push_back({mm, *project_bed_point(camera, mm), 0.05});
    return marks;
  };
  const LensRecord known = known_lens(lens);
  EXPECT_NE(fit_pose_to_marks(known, marks_at({{50, 50, 0}, {300, 60, 0}, {60, 300, 0}}), 1600, 1200)
                .reason()
                .find("3 marks"),
            std::string::npos);
  EXPECT_NE(fit_pose_to_marks(known, marks_at({{50, 100, 0}, {130, 101, 0}, {210, 100, 0}, {300, 101, 0}}), 1600, 1200)
                .reason()
                .find("in a line"),
            std::string::npos);
  auto exchanged = marks_at({{50, 50, 0}, {300, 60, 0}, {60, 300, 0}, {310, 320, 0}, {180, 170, 0}});
  std::swap(exchanged[0].px, exchanged[1].px);
  EXPECT_FALSE(fit_pose_to_marks(known, exchanged, 1600, 1200));
}

// A little square of marks far below a tele lens: its two tilts look alike, and which one is true decides by chance.
TEST(PoseFit, AmbiguousMarksAreRefused) {
  const Lens tele = make_lens(LensModel::radial5, 1600, 1200, synthetic::vector({6000, 6000, 800, 600, 0, 0, 0, 0, 0}));
  Camera camera = synthetic::overhead_camera(tele);
  camera.camera_from_bed.rotation = rotation_from_vector({0.25, 0.0, 0.0}) * camera.camera_from_bed.rotation;
  camera.camera_from_bed.translation = Vector3d(0, 0, 3000) - camera.camera_from_bed.rotation * Vector3d(180, 200, 0);
  std::mt19937 random(33);
  std::normal_distribution<double> normal(0.0, 0.1);
  std::vector<PlacedMark> marks;
  for (const Vector3d& mm :
       {Vector3d(160, 180, 0), Vector3d(200, 180, 0), Vector3d(200, 220, 0), Vector3d(160, 220, 0)}) {
    const auto px = project_bed_point(camera, mm);
    ASSERT_TRUE(px);
    marks.push_back({mm, *px + Vector2d(normal(random), normal(random)), 0.1});
  }
  const auto fit = fit_pose_to_marks(known_lens(tele), marks, 1600, 1200);
  EXPECT_NE(fit.reason().find("two poses fit the marks alike"), std::string::npos) << fit.reason();
}

// What the covariance claims of points on the bed must be what fresh noise and fresh lenses (drawn from the lens's own
// covariance) really do to them.
TEST(PoseFitSlow, CovarianceHoldsOnTheBed) {
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = synthetic::overhead_camera(lens);
  const LensRecord known = known_lens(lens);
  BoardPlacement stated = placement();
  stated.xy_sigma_mm = 0.03;
  stated.angle_sigma_deg = 0.02;
  stated.height_sigma_mm = 0.2;
  stated.scale_sigma = 2e-4;
  std::mt19937 random(34);
  std::normal_distribution<double> normal;
  const std::vector<Vector3d> places = {{60, 90, 0}, {180, 200, 9}, {300, 290, 15}, {90, 300, 3}};
  std::vector<Vector2d> seen;
  seen.reserve(places.size());
  for (const Vector3d& mm : places) seen.push_back(*project_bed_point(camera, mm));
  constexpr int kRuns = 1500;
  std::vector<Matrix2d> scatter(places.size(), Matrix2d::Zero());
  std::vector<Matrix2d> promised(places.size(), Matrix2d::Zero());
  for (int run = 0; run < kRuns; ++run) {
    BoardPlacement real = stated;
    real.x_mm += stated.xy_sigma_mm * normal(random);
    real.y_mm += stated.xy_sigma_mm * normal(random);
    real.angle_deg += stated.angle_sigma_deg * normal(random);
    real.height_mm += stated.height_sigma_mm * normal(random);
    const double scale = 1.0 + stated.scale_sigma * normal(random);
    BoardCorners corners;
    corners.board = synthetic::kBoard;
    for (int j = 0; j < 54; ++j) {
      const auto px =
          project_bed_point(camera, bed_from_board(real) * (scale * synthetic::kBoard.corner_mm(j % 9, j / 9)));
      corners.px.push_back(*px + 0.06 * Vector2d(normal(random), normal(random)));
      corners.sigma_px.push_back(0.06);
    }
    LensRecord drawn = known;
    for (Eigen::Index i = 0; i < lens.parameters.size(); ++i) {
      drawn.lens.parameters[i] += std::sqrt(known.covariance(i, i)) * normal(random);
    }
    const auto fit = fit_pose_to_board(drawn, corners, 1600, 1200, stated);
    ASSERT_TRUE(fit) << fit.reason();
    for (std::size_t k = 0; k < places.size(); ++k) {
      const auto point = bed_point_at(fit->camera, seen[k], places[k].z());
      ASSERT_TRUE(point);
      const Vector2d error = point->mm - places[k].head<2>();
      scatter[k] += error * error.transpose() / kRuns;
      promised[k] += point->covariance_mm2 / kRuns;
    }
  }
  for (std::size_t k = 0; k < places.size(); ++k) {
    for (int axis = 0; axis < 2; ++axis) {
      // a standard deviation from 1500 samples is known to 1 / sqrt(3000) = 1.8 %; four of those, and 1 % for curvature
      EXPECT_NEAR(std::sqrt(scatter[k](axis, axis) / promised[k](axis, axis)), 1.0, 0.083)
          << "place " << k << " axis " << axis;
    }
    const double correlation = scatter[k](0, 1) / std::sqrt(scatter[k](0, 0) * scatter[k](1, 1));
    const double expected = promised[k](0, 1) / std::sqrt(promised[k](0, 0) * promised[k](1, 1));
    EXPECT_NEAR(correlation, expected, 0.1);  // 1 / sqrt(1500) = 2.6 %; four of those
  }
}

// A pose's photo has its own light, blur and size of squares: what its corners err is told by itself, whether they err
// less or more than those of the lens's photos did.
TEST(PoseFit, ItsOwnPhotoSaysHowSureItIs) {
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = synthetic::overhead_camera(lens);
  const LensRecord known = known_lens(lens, 1e-3);  // corners erred by 0.06 px there
  const Vector3d place(300, 290, 15);
  const Vector2d seen = *project_bed_point(camera, place);
  std::mt19937 random(35);
  constexpr int kRuns = 150;
  for (const double noise_px : {0.03, 0.15}) {
    double scatter = 0.0;
    double promised = 0.0;
    for (int run = 0; run < kRuns; ++run) {
      const auto fit =
          fit_pose_to_board(known, see_board(camera, placement(), noise_px, random), 1600, 1200, placement());
      ASSERT_TRUE(fit) << fit.reason();
      const auto point = bed_point_at(fit->camera, seen, place.z());
      ASSERT_TRUE(point);
      scatter += (point->mm - place.head<2>()).squaredNorm() / kRuns;
      promised += point->covariance_mm2.trace() / kRuns;
    }
    // a standard deviation from 150 errors, mostly along one line, is known to 1 / sqrt(300) = 5.8 %; three of those
    EXPECT_NEAR(std::sqrt(scatter / promised), 1.0, 0.17) << noise_px;
  }
}

// Errors of lens and pose cancel where the board lay: with the coupling thrown away the promise there would be far too
// large.
TEST(PoseFit, LensAndPoseAreCoupled) {
  std::mt19937 random(35);
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = synthetic::overhead_camera(lens);
  const auto fit =
      fit_pose_to_board(known_lens(lens, 20.0), see_board(camera, placement(), 0.05, random), 1600, 1200, placement());
  ASSERT_TRUE(fit) << fit.reason();
  const Vector3d on_board = bed_from_board(placement()) * Vector3d(125, 87, 0);
  const auto px = project_bed_point(camera, on_board);
  const auto coupled = bed_point_at(fit->camera, *px, on_board.z());
  Camera apart = fit->camera;
  const Eigen::Index n = lens.parameters.size();
  apart.covariance.topRightCorner(n, 6).setZero();
  apart.covariance.bottomLeftCorner(6, n).setZero();
  const auto uncoupled = bed_point_at(apart, *px, on_board.z());
  ASSERT_TRUE(coupled && uncoupled);
  EXPECT_LT(std::sqrt(coupled->covariance_mm2.trace()), 0.05);
  EXPECT_GT(std::sqrt(uncoupled->covariance_mm2.trace()), 10.0 * std::sqrt(coupled->covariance_mm2.trace()));
}

}  // namespace
}  // namespace jigtrue
