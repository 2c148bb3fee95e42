#include "jigtrue/measurement/fixture_marks.hpp"

#include "jigtrue/calibration/camera_file.hpp"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

Camera overhead() {
  Camera camera;
  VectorXd parameters(9);
  parameters << 1350, 1352, 812, 588, -0.21, 0.06, 0.0012, -0.0008, 0.01;
  camera.lens = make_lens(LensModel::radial5, 1600, 1200, parameters);
  camera.camera_from_bed.rotation =
      rotation_from_vector({0.15, -0.08, 0.0}) * (Matrix3d() << 1, 0, 0, 0, -1, 0, 0, 0, -1).finished();
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * Vector3d(200.0, 160.0, 600.0));
  camera.covariance = MatrixXd::Zero(15, 15);
  return camera;
}

Fixture marked(const std::vector<Vector3d>& marks) {
  Fixture fixture;
  fixture.name = "invented jig";
  fixture.marks_mm = marks;
  for (int i = 0; i < 3; ++i) {
    Slot slot;
    slot.id = std::to_string(i + 1);
    slot.centre_mm = {200.0, 150.0 + 30.0 * i};
    fixture.slots.push_back(slot);
  }
  return fixture;
}
const Vector2d kCentre(200.0, 180.0);
const std::vector<Vector3d> kMarks{{110, 130, 10}, {290, 130, 10}, {110, 230, 14}, {290, 225, 6}};

constexpr double kSigma_px = 0.02;

// As a fixture that stands shifted and turned shows its marks.
std::vector<SeenFixtureMark> seen(const Camera& camera, const std::vector<Vector3d>& marks, const Vector2d& shift,
                                  double turn_deg, std::mt19937& random, double sigma = kSigma_px) {
  FixturePlacement truth;
  truth.shift_mm = shift;
  truth.turn_deg = turn_deg;
  std::normal_distribution<double> normal(0.0, sigma);
  std::vector<SeenFixtureMark> list;
  for (std::size_t i = 0; i < marks.size(); ++i) {
    Vector3d place = marks[i];
    place.head<2>() = placed_mm(truth, kCentre, place.head<2>());
    SeenFixtureMark mark;
    mark.index = i;
    mark.mark.px = *project_bed_point(camera, place) + Vector2d(normal(random), normal(random));
    mark.mark.sigma_px = kSigma_px;
    list.push_back(mark);
  }
  return list;
}

// The turn is about the slots' common centre, each mark at its own height. Exact marks: rounding only.
TEST(FixtureMarks, GiveTheExactShiftAndTurnOfExactMarks) {
  std::mt19937 random(1);
  const Camera camera = overhead();
  for (const double turn : {0.0, -0.5, 4.0, 12.0}) {
    const auto placed =
        fit_fixture_to_marks(camera, marked(kMarks), seen(camera, kMarks, {1.5, -7.0}, turn, random, 1e-9), 0.0);
    ASSERT_TRUE(placed.ok()) << placed.reason();
    EXPECT_NEAR((placed->placement.shift_mm - Vector2d(1.5, -7.0)).norm(), 0.0, 1e-5);
    EXPECT_NEAR(placed->placement.turn_deg, turn, 1e-5);
    EXPECT_EQ(placed->placement.from, "marks");
    EXPECT_TRUE(placed->notes.empty());
  }
}

// The stated half-widths hold the truth at least 95 times in 100 (3 standard deviations of 600 trials: 2.7 %); the
// places' own uncertainty, which these marks do not have, makes it more.
TEST(FixtureMarks, StateAnUncertaintyThatHolds) {
  std::mt19937 random(2);
  const Camera camera = overhead();
  int held = 0;
  for (int trial = 0; trial < 600; ++trial) {
    const auto placed =
        fit_fixture_to_marks(camera, marked(kMarks), seen(camera, kMarks, {0.4, 0.2}, 0.3, random), 0.0);
    ASSERT_TRUE(placed.ok());
    const FixturePlacement& p = placed->placement;
    held += (p.shift_mm - Vector2d(0.4, 0.2)).cwiseAbs().maxCoeff() <= p.shift_u_mm &&
                    std::abs(p.turn_deg - 0.3) <= p.turn_u_deg
                ? 1
                : 0;
    EXPECT_LT(p.shift_u_mm, 0.1);
    EXPECT_LT(p.turn_u_deg, 0.06);
  }
  EXPECT_GE(held, 554);
}

TEST(FixtureMarks, LeaveOutAndNameTheOneThatContradicts) {
  std::mt19937 random(3);
  const Camera camera = overhead();
  auto list = seen(camera, kMarks, {1.0, 1.0}, 0.5, random);
  list[1].mark.px += Vector2d(4.0, 0.0);
  const auto placed = fit_fixture_to_marks(camera, marked(kMarks), list, 0.0);
  ASSERT_TRUE(placed.ok()) << placed.reason();
  EXPECT_EQ(placed->used.size(), 3U);
  EXPECT_NEAR(placed->placement.turn_deg, 0.5, 0.05);
  ASSERT_EQ(placed->notes.size(), 1U);
  EXPECT_NE(placed->notes[0].find("mark 2 of the fixture, (290, 130)"), std::string::npos) << placed->notes[0];
}

TEST(FixtureMarks, RefuseTooFewAndTwoThatContradict) {
  std::mt19937 random(4);
  const Camera camera = overhead();
  auto list = seen(camera, kMarks, {1.0, 1.0}, 0.5, random);
  list.resize(1);
  EXPECT_NE(fit_fixture_to_marks(camera, marked(kMarks), list, 0.0).reason().find("only 1 of its 4 marks"),
            std::string::npos);
  list = seen(camera, kMarks, {1.0, 1.0}, 0.5, random);
  list.resize(2);
  EXPECT_TRUE(fit_fixture_to_marks(camera, marked(kMarks), list, 0.0).ok());
  list[1].mark.px += Vector2d(4.0, 0.0);
  EXPECT_FALSE(fit_fixture_to_marks(camera, marked(kMarks), list, 0.0).ok());
}

}  // namespace
}  // namespace jigtrue
