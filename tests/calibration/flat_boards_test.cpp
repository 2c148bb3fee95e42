// Several flat photos: one camera, one board at a declared place, the same board flat at unknown places.
#include "jigtrue/calibration/pose_fit.hpp"
#include "support/seeded_by_name.hpp"

#include <cmath>
#include <cstdio>
#include <random>

#include "calibration/flat_photos.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using namespace synthetic;

class FlatBoards : public testing::Test {
 protected:
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = synthetic::overhead_camera(lens);
  const LensRecord known = known_lens(lens);
  [[nodiscard]] std::string refusal(const std::vector<FlatBoardPhoto>& photos) const {
    return fit_pose_to_boards(known, photos, kFlatPlaces[0]).reason();
  }
};

TEST_F(FlatBoards, ExactCornersGiveCameraAndPlacesBack) {
  for (const Lens& any : {lens, synthetic::wide_lens()}) {
    const Camera over = synthetic::overhead_camera(any);
    const auto fit = fit_pose_to_boards(known_lens(any), flat_photos(over), kFlatPlaces[0]);
    ASSERT_TRUE(fit) << fit.reason();
    EXPECT_LT((fit->camera.centre_mm() - over.centre_mm()).norm(), 1e-6);
    EXPECT_LT(fit->rms_px, 1e-7);
    ASSERT_EQ(fit->further.size(), 2u);
    EXPECT_EQ(fit->px.size(), 3u * 54u);
    for (std::size_t i = 0; i < 2; ++i) {
      EXPECT_NEAR(fit->further[i].x_mm, kFlatPlaces[i + 1].x_mm, 1e-6);
      EXPECT_NEAR(fit->further[i].y_mm, kFlatPlaces[i + 1].y_mm, 1e-6);
      EXPECT_NEAR(fit->further[i].angle_deg, kFlatPlaces[i + 1].angle_deg, 1e-7);
      EXPECT_EQ(fit->further[i].file, "flat" + std::to_string(i + 1) + ".jpg");
    }
  }
}

// A camera shifted along the bed, or turned about its normal, sees the plane where it was: nothing is taken from it.
TEST_F(FlatBoards, ACameraShiftedAlongTheBedDoesNoHarm) {
  Camera shifted = camera;
  shifted.camera_from_bed =
      camera.camera_from_bed * Rigid{rotation_from_vector({0, 0, 0.02}), Vector3d(4.0, -2.5, 0.0)};
  std::vector<FlatBoardPhoto> photos = flat_photos(camera);
  photos[1] = flat_photo(shifted, "flat1.jpg", kFlatPlaces[1]);
  const auto fit = fit_pose_to_boards(known, photos, kFlatPlaces[0]);
  ASSERT_TRUE(fit) << fit.reason();
  EXPECT_LT((fit->camera.centre_mm() - camera.centre_mm()).norm(), 1e-6);
}

TEST_F(FlatBoards, PhotosThatContradictAreNamed) {
  const std::vector<FlatBoardPhoto> good = flat_photos(camera);
  const auto with = [&](std::size_t i, const FlatBoardPhoto& photo) {
    std::vector<FlatBoardPhoto> photos = good;
    photos[i] = photo;
    return refusal(photos);
  };
  const auto expect = [](const std::string& said, const std::string& file, const std::string& what) {
    EXPECT_EQ(said.rfind(file + ": ", 0), 0u) << said;
    EXPECT_NE(said.find(what), std::string::npos) << said;
  };
  // one edge propped up: a degree
  const Rigid propped{rotation_from_vector({0, rad_from_deg(-1.0), 0}), Vector3d::Zero()};
  expect(with(2, flat_photo(camera, "flat2.jpg", kFlatPlaces[2], propped)), "flat2.jpg", "tilted by 1.00 degrees");
  // on something 3 mm thick
  const Rigid raised{Matrix3d::Identity(), Vector3d(0, 0, 3)};
  expect(with(1, flat_photo(camera, "flat1.jpg", kFlatPlaces[1], raised)), "flat1.jpg", "3.0 mm higher");
  // another board, its squares 24.5 mm: as if it lay 2 % of the camera's height lower
  const std::string other = with(1, flat_photo(camera, "flat1.jpg", kFlatPlaces[1], {}, 24.5 / 25.0));
  expect(other, "flat1.jpg", "squares 2.0 % smaller");
  EXPECT_NE(other.find("leave this one out"), std::string::npos) << other;
  // the camera nodded by half a degree
  Camera nodded = camera;
  nodded.camera_from_bed.rotation = rotation_from_vector({rad_from_deg(0.5), 0, 0}) * nodded.camera_from_bed.rotation;
  expect(with(1, flat_photo(nodded, "flat1.jpg", kFlatPlaces[1])), "flat1.jpg", "tilted by 0.50 degrees");
  // ... or before the first photo: the others outvote it
  expect(with(0, flat_photo(nodded, "flat0.jpg", kFlatPlaces[0])), "flat0.jpg", "tilted by 0.50 degrees");
  // two photos against each other: the first counts
  EXPECT_EQ(refusal({flat_photo(nodded, "flat0.jpg", kFlatPlaces[0]), good[1]}).rfind("flat1.jpg: ", 0), 0u);
  // a bent sheet fits no flat board
  FlatBoardPhoto bent = good[1];
  for (std::size_t j = 0; j < 54; ++j)
    bent.corners.px[j].x() += 3.0 * std::pow((static_cast<double>(j % 9) - 4.0) / 4.0, 2);
  expect(with(1, bent), "flat1.jpg", "a bent board");
  FlatBoardPhoto cropped = good[1];
  cropped.width_px = 1500;
  expect(with(1, cropped), "flat1.jpg", "1500 x 1200 px");
}

TEST_F(FlatBoards, ABoardThatWasNotMovedTellsNothingNew) {
  std::vector<FlatBoardPhoto> photos = flat_photos(camera);
  photos[2] = photos[1];
  photos[2].file = "again.jpg";
  for (Vector2d& px : photos[2].corners.px) px += Vector2d(0.05, -0.03);
  EXPECT_EQ(refusal(photos).rfind("again.jpg: its board lies where that in flat1.jpg lies", 0), 0u) << refusal(photos);
}

// No bed is flatter than a tenth of a millimetre: such a step is no contradiction, but it is not hidden either.
TEST_F(FlatBoards, AnUnevenBedWidensTheCovariance) {
  std::vector<FlatBoardPhoto> photos = flat_photos(camera);
  const auto even = fit_pose_to_boards(known, photos, kFlatPlaces[0]);
  LensRecord sharp = known;
  sharp.covariance *= 1e-6;
  sharp.noise_px = sharp.together_px = 0.005;
  const auto precise = fit_pose_to_boards(sharp, photos, kFlatPlaces[0]);
  photos[1] = flat_photo(camera, "flat1.jpg", kFlatPlaces[1], {Matrix3d::Identity(), Vector3d(0, 0, 0.15)});
  const auto uneven = fit_pose_to_boards(sharp, photos, kFlatPlaces[0]);
  ASSERT_TRUE(even && precise && uneven) << uneven.reason();
  EXPECT_GT(uneven->camera.covariance.bottomRightCorner(6, 6).trace(),
            2.0 * precise->camera.covariance.bottomRightCorner(6, 6).trace());
}

// The sheet that gave the lens: its short side 0.4 % long, its middle 0.8 mm up; as such, and pressed flat on the bed.
class KnownSheet : public FlatBoards {
 protected:
  KnownSheet() {
    sheet.board = kBoard;
    BoardShapeFit shape;
    shape.stretch = 0.004;
    shape.bow_x_mm = 0.8;
    shape.sigma = Vector3d(5e-4, 0.1, 0.1);
    shape.covariance = shape.sigma.cwiseAbs2().asDiagonal();
    shape.with_lens = Eigen::Matrix<double, 3, Eigen::Dynamic>::Zero(3, lens.parameters.size());
    sheet.board_shape = shape;
  }
  [[nodiscard]] FlatBoardPhoto photo(double bow_mm) const {
    FlatBoardPhoto photo{"flat.jpg", 1600, 1200, {kBoard, {}, {}, 0.0, {}, true}};
    for (int j = 0; j < kBoard.corner_count(); ++j) {
      Vector3d mm = kBoard.corner_mm(j % 9, j / 9);
      const double u = (j % 9 - 4.0) / 4.0;
      mm.y() *= 1.004;
      mm.z() += bow_mm * (1.0 - u * u);
      photo.corners.px.push_back(*project_bed_point(camera, bed_from_board(kFlatPlaces[0]) * mm));
      photo.corners.sigma_px.push_back(0.05);
    }
    return photo;
  }
  LensRecord sheet = known;
};

TEST_F(KnownSheet, IsTakenInItsShapeBowedOrLaidFlat) {
  for (const double bow_mm : {0.8, 0.0}) {
    const auto fit = fit_pose_to_boards(sheet, {photo(bow_mm)}, kFlatPlaces[0]);
    ASSERT_TRUE(fit) << fit.reason();
    EXPECT_LT((fit->camera.centre_mm() - camera.centre_mm()).norm(), 1e-6) << bow_mm;
    ASSERT_EQ(fit->notes.size(), 1u);
    EXPECT_NE(fit->notes[0].find(bow_mm > 0.0 ? "as bowed" : "as flat"), std::string::npos) << fit->notes[0];
    // taken as square it would stand elsewhere, or fit no flat board at all
    const auto square = fit_pose_to_boards(known, {photo(bow_mm)}, kFlatPlaces[0]);
    EXPECT_TRUE(!square || (square->camera.centre_mm() - camera.centre_mm()).norm() > 0.2);
  }
}

TEST_F(KnownSheet, AnotherBoardIsTakenAsDeclared) {
  sheet.board.square_mm = 20.0;
  const auto fit = fit_pose_to_boards(sheet, {flat_photo(camera, "flat.jpg", kFlatPlaces[0])}, kFlatPlaces[0]);
  ASSERT_TRUE(fit) << fit.reason();
  EXPECT_LT((fit->camera.centre_mm() - camera.centre_mm()).norm(), 1e-6);
  EXPECT_TRUE(fit->notes.empty());
}

// How surely the shape is known shows in the pose: by differences, the shape moved by its sigmas one by one.
TEST_F(KnownSheet, ItsUncertaintyGoesIntoThePose) {
  const Vector3d at_mm(330, 330, 15);
  const Vector2d px = *project_bed_point(camera, at_mm);
  const auto covariance = [&](const LensRecord& record) {
    const auto fit = fit_pose_to_boards(record, {photo(0.8)}, kFlatPlaces[0]);
    return bed_point_at(fit->camera, px, at_mm.z())->covariance_mm2;
  };
  LensRecord exact = sheet;
  exact.board_shape->covariance.setZero();
  Matrix2d expected = covariance(exact);
  for (int i = 0; i < 3; ++i) {
    LensRecord moved = sheet;
    const double by = sheet.board_shape->sigma[i];
    (i == 0 ? moved.board_shape->stretch : i == 1 ? moved.board_shape->bow_x_mm : moved.board_shape->bow_y_mm) += by;
    const auto fit = fit_pose_to_boards(moved, {photo(0.8)}, kFlatPlaces[0]);
    ASSERT_TRUE(fit) << fit.reason();
    const Vector2d step = bed_point_at(fit->camera, px, at_mm.z())->mm - at_mm.head<2>();
    expected += step * step.transpose();
  }
  EXPECT_LT((covariance(sheet) - expected).norm(), 0.02 * expected.norm());  // differences are not quite derivatives
  EXPECT_GT(expected.trace(), 1.2 * covariance(exact).trace());
}

// Draws of corners, which err alone and together, and of the lens from its covariance. What the pose promises of points
// all over the bed must be what happens to them, with one photo and with three; and the three must gain what they say.
TEST(FlatBoardsSlow, FurtherBoardsStrengthenThePlaneAsPromised) {
  auto random = test::seeded_by_name();
  std::normal_distribution<double> normal;
  const Lens lens = synthetic::barrel_lens();
  const Camera camera = synthetic::overhead_camera(lens);
  const LensRecord known = known_lens(lens);
  const std::vector<FlatBoardPhoto> exact = flat_photos(camera);
  const synthetic::ErrorSource errors({kCornerNoise_px, kCornerNoise_px});
  const std::vector<Vector3d> places = {{150, 130, 3}, {60, 330, 0}, {350, 90, 15}, {330, 330, 15}};
  constexpr int kRuns = 1500;
  struct Tally {
    Matrix2d scatter = Matrix2d::Zero();
    Matrix2d promised = Matrix2d::Zero();
    int inside = 0;
  };
  std::vector<std::vector<Tally>> tally(2, std::vector<Tally>(places.size()));
  int refused = 0;
  for (int run = 0; run < kRuns; ++run) {
    std::vector<FlatBoardPhoto> photos = exact;
    for (FlatBoardPhoto& photo : photos) errors.add(photo.corners.px, random);
    LensRecord drawn = known;
    for (Eigen::Index i = 0; i < lens.parameters.size(); ++i)
      drawn.lens.parameters[i] += std::sqrt(known.covariance(i, i)) * normal(random);
    for (const std::size_t many : {0u, 1u}) {
      const auto fit = fit_pose_to_boards(drawn, many == 1 ? photos : std::vector{photos[0]}, kFlatPlaces[0]);
      if (!fit) {
        ++refused;
        continue;
      }
      for (std::size_t k = 0; k < places.size(); ++k) {
        const auto point = bed_point_at(fit->camera, *project_bed_point(camera, places[k]), places[k].z());
        ASSERT_TRUE(point);
        const Vector2d error = point->mm - places[k].head<2>();
        Tally& t = tally[many][k];
        t.scatter += error * error.transpose() / kRuns;
        t.promised += point->covariance_mm2 / kRuns;
        // chi-square of two degrees of freedom: 95 % lie below 5.991
        if (error.dot(point->covariance_mm2.inverse() * error) <= 5.991) ++t.inside;
      }
    }
  }
  // two of three planes contradict each other by chance once in ten thousand pairs, 0.3 in all; no photo may seem
  // mirrored
  EXPECT_LE(refused, 3);
  for (std::size_t k = 0; k < places.size(); ++k) {
    for (const Tally* t : {&tally[0][k], &tally[1][k]}) {
      const double coverage = static_cast<double>(t->inside) / kRuns;
      EXPECT_GE(coverage, 0.93) << k;  // its own standard deviation is 0.6 %
      EXPECT_LE(coverage, 0.97) << k;
      // the root mean square of 1500 two-dimensional errors is known to 1.8 %; four of those, and 2 % for the widening
      // by chance
      EXPECT_NEAR(std::sqrt(t->scatter.trace() / t->promised.trace()), 0.99, 0.082) << k;
    }
    const double promised = std::sqrt(tally[1][k].promised.trace() / tally[0][k].promised.trace());
    const double met = std::sqrt(tally[1][k].scatter.trace() / tally[0][k].scatter.trace());
    std::printf(
        "place %zu: one photo %.4f mm (rms), inside %.1f %%; three %.4f mm, %.1f %%; ratio met %.3f, promised "
        "%.3f\n",
        k, std::sqrt(tally[0][k].scatter.trace()), 100.0 * tally[0][k].inside / kRuns,
        std::sqrt(tally[1][k].scatter.trace()), 100.0 * tally[1][k].inside / kRuns, met, promised);
    EXPECT_NEAR(met / promised, 1.0, 4.0 * 0.018 * std::sqrt(2.0));
    EXPECT_LT(promised, 1.0);
  }
  // away from the first board, across the bed, the gain is large
  EXPECT_LT(tally[1][3].promised.trace(), 0.5 * tally[0][3].promised.trace());
}

}  // namespace
}  // namespace jigtrue
