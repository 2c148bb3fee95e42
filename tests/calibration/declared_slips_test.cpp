#include "jigtrue/calibration/declared_slips.hpp"

#include <cmath>
#include <random>

#include "calibration/synthetic.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// Straight above (200, 150), the photo's top turned by so much from the bed's back, counter-clockwise.
Camera hung_at(double height_mm, double turn_deg) {
  Matrix3d down;
  down << 1, 0, 0, 0, -1, 0, 0, 0, -1;
  Rigid pose;
  pose.rotation = down * rotation_from_vector({0.0, 0.0, rad_from_deg(-turn_deg)});
  pose.translation = -(pose.rotation * Vector3d(200, 150, height_mm));
  return {synthetic::barrel_lens(), pose, {}};
}

TEST(DeclaredBoard, IsAskedAboutWhenNoShopHasIt) {
  EXPECT_TRUE(board_question({10, 7, 25.0}).empty());
  EXPECT_NE(board_question({10, 7, 2.5}).find("not centimetres"), std::string::npos);
  EXPECT_FALSE(board_question({10, 7, 400.0}).empty());
}

TEST(DeclaredCamera, IsAskedAboutWhenNoShopHasIt) {
  EXPECT_TRUE(camera_question(hung_at(480, 0)).empty());
  EXPECT_NE(camera_question(hung_at(48, 0)).find("48 mm above the bed"), std::string::npos);
  EXPECT_FALSE(camera_question(hung_at(12000, 0)).empty());
  Camera along = hung_at(480, 0);
  along.camera_from_bed.rotation = rotation_from_vector({rad_from_deg(80.0), 0, 0}) * along.camera_from_bed.rotation;
  along.camera_from_bed.translation = -(along.camera_from_bed.rotation * Vector3d(200, 150, 480));
  EXPECT_NE(camera_question(along).find("along the bed"), std::string::npos);
}

TEST(DeclaredLens, IsAskedAboutWhenNoShopHasIt) {
  const auto asked = [](const std::vector<double>& values, double sigma_px) {
    const Lens lens = make_lens(LensModel::radial5, 1600, 1200, synthetic::vector(values));
    return lens_questions(lens, MatrixXd::Identity(9, 9) * sigma_px * sigma_px);
  };
  EXPECT_TRUE(asked({1350, 1352, 812, 588, 0, 0, 0, 0, 0}, 2.0).empty());
  ASSERT_EQ(asked({40000, 40000, 800, 600, 0, 0, 0, 0, 0}, 2.0).size(), 1u);
  EXPECT_NE(asked({1350, 1450, 800, 600, 0, 0, 0, 0, 0}, 2.0)[0].find("resized unevenly"), std::string::npos);
  EXPECT_NE(asked({1350, 1350, 500, 600, 0, 0, 0, 0, 0}, 2.0)[0].find("cropped"), std::string::npos);
  // photos that leave that open are no reason to ask
  EXPECT_TRUE(asked({1350, 1450, 500, 600, 0, 0, 0, 0, 0}, 60.0).empty());
}

TEST(PhotoStand, NamesTheSideAtTheTop) {
  const std::vector<std::pair<double, PhotoTop>> turns = {
      {0.0, PhotoTop::back}, {90.0, PhotoTop::left}, {180.0, PhotoTop::front}, {-90.0, PhotoTop::right}};
  for (const auto& [turn_deg, side] : turns) {
    const PhotoStand stand = photo_stand(hung_at(480, turn_deg + 7.0));
    EXPECT_EQ(stand.top, side) << turn_deg;
    EXPECT_NEAR(stand.turn_deg, 7.0, 1e-9);
    // what lies at the top of the photo: 50 mm towards that side is seen higher up
    const Camera camera = hung_at(480, turn_deg);
    const Vector3d toward = side == PhotoTop::back    ? Vector3d(200, 200, 0)
                            : side == PhotoTop::front ? Vector3d(200, 100, 0)
                            : side == PhotoTop::left  ? Vector3d(150, 150, 0)
                                                      : Vector3d(250, 150, 0);
    EXPECT_LT(project_bed_point(camera, toward)->y(), project_bed_point(camera, {200, 150, 0})->y() - 50.0);
  }
}

// A camera square to the bed; the board truly turned by 20 degrees, declared as -20: the photo would be turned by 40.
TEST(DeclaredTurn, OfTheWrongSignIsAskedAbout) {
  BoardPlacement placement;
  placement.angle_deg = 20.0;
  EXPECT_TRUE(turn_question(hung_at(480, 1.0), placement).empty());
  placement.angle_deg = -20.0;
  EXPECT_NE(turn_question(hung_at(480, -39.0), placement).find("with 20 it would show the back"), std::string::npos)
      << turn_question(hung_at(480, -39.0), placement);
  // upside down with the declared sign, the right way up with the other
  placement.angle_deg = 88.0;
  EXPECT_FALSE(turn_question(hung_at(480, 176.0), placement).empty());
  // a turn whose sign changes nothing is never in doubt, however the camera hangs
  for (const double angle_deg : {0.0, 180.0}) {
    placement.angle_deg = angle_deg;
    for (const double turn_deg : {0.0, 13.0, 45.0, 180.0})
      EXPECT_TRUE(turn_question(hung_at(480, turn_deg), placement).empty());
  }
}

TEST(DeclaredPlace, OutsideTheBedIsAskedAbout) {
  EXPECT_TRUE(outside_question({{10, 10, 3}, {-4, 200, 3}}).empty());
  EXPECT_NE(outside_question({{10, 10, 3}, {-62, 200, 3}}).find("reach X -62, Y 0"), std::string::npos);
}

TEST(ScaleByMarks, HoldsTheTruthAsOftenAsItSays) {
  const std::vector<Vector2d> measured = {{12, 12}, {288, 12}, {12, 388}, {288, 388}};
  std::mt19937 random(7);
  std::normal_distribution<double> normal(0.0, 0.6);
  const double truth = 1.004;
  int held = 0;
  constexpr int kDraws = 2000;
  for (int i = 0; i < kDraws; ++i) {
    std::vector<Vector2d> nominal;
    nominal.reserve(measured.size());
    for (const Vector2d& mm : measured)
      nominal.emplace_back(truth * mm + Vector2d(5.0 + normal(random), normal(random)));
    const auto scale = scale_by_marks(nominal, measured);
    ASSERT_TRUE(scale);
    held += std::abs(scale->scale - truth) <= scale->u95 ? 1 : 0;
  }
  // 95 % of 2000, three standard deviations of the count about it
  EXPECT_NEAR(held, 0.95 * kDraws, 3.0 * std::sqrt(0.95 * 0.05 * kDraws));
  EXPECT_FALSE(scale_by_marks({{12, 12}, {288, 12}}, {{12, 12}, {288, 12}}));
}

TEST(ScaleByMarks, SaysWhichWayThePrintIsWrong) {
  const std::vector<Vector2d> nominal = {{12, 12}, {288, 12}, {12, 388}, {288, 388}};
  std::vector<Vector2d> measured;
  measured.reserve(nominal.size());
  for (const Vector2d& mm : nominal) measured.emplace_back(mm / 1.02);  // by squares declared 2 % too small
  EXPECT_NE(scale_question(*scale_by_marks(nominal, measured)).find("squares were 2.0 % larger"), std::string::npos);
  EXPECT_TRUE(scale_question(*scale_by_marks(nominal, nominal)).empty());
}

TEST(OtherBoard, IsToldFromTheLenss) {
  LensRecord lens;
  EXPECT_TRUE(other_board(lens, {10, 7, 25.0}).empty());  // a file that says nothing of it
  lens.board = {10, 7, 25.0};
  EXPECT_TRUE(other_board(lens, {10, 7, 25.0}).empty());
  EXPECT_NE(other_board(lens, {10, 7, 2.5}).find("one print has one size"), std::string::npos);
  EXPECT_NE(other_board(lens, {9, 6, 25.0}).find("a board of 10x7x25"), std::string::npos);
}

}  // namespace
}  // namespace jigtrue
