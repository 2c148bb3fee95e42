#include "jigtrue/detection/outline.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

Camera oblique_camera() {
  Camera camera;
  VectorXd parameters(9);
  parameters << 1700.0, 1700.0, 1280.0, 980.0, -0.05, 0.01, 0.0, 0.0, 0.0;
  camera.lens = make_lens(LensModel::radial5, 2600, 1960, parameters);
  // looking down, turned half about and leaning by 25 degrees
  camera.camera_from_bed.rotation = Eigen::AngleAxisd(rad_from_deg(180.0 - 25.0), Vector3d::UnitX()).toRotationMatrix();
  const Vector3d centre(150.0, 40.0, 300.0);
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * centre);
  return camera;
}

Blank pen() {
  Blank blank;
  blank.shape = TurnedBlank{{{0.0, 9.6}, {3.0, 10.6}, {100.0, 10.6}, {130.0, 3.0}}};
  return blank;
}
Blank tag() {
  Blank blank;
  blank.shape = PlateBlank{60.0, 30.0, 3.0, 3.0};
  return blank;
}
Blank coaster() {
  Blank blank;
  blank.shape = DiscBlank{80.0, 4.0};
  return blank;
}
Seat vee() {
  Seat seat;
  seat.kind = VeeSeat{6.0, 90.0};
  return seat;
}
Seat floor_seat() {
  Seat seat;
  seat.kind = FloorSeat{5.0};
  return seat;
}

struct Case {
  const char* name;
  Blank blank;
  Seat seat;
};

class Outline : public testing::TestWithParam<int> {
 protected:
  [[nodiscard]] static Case example(int i) {
    if (i == 0) return {"pen in a vee", pen(), vee()};
    if (i == 1) return {"tag on a floor", tag(), floor_seat()};
    return {"disc on a floor", coaster(), floor_seat()};
  }
};

// What the samples' Jacobian says against the outline drawn anew at a place a little further on.
TEST_P(Outline, JacobianMatchesTheOutlineRedrawn) {
  const Case example = Outline::example(GetParam());
  const Camera camera = oblique_camera();
  const BlankPlace place{{150.0, 160.0}, 0.2, 0.0, 0.0};
  const auto before = outline_samples(camera, example.blank, example.seat, place);
  ASSERT_GT(before.size(), 50U);
  const Vector2d along(std::cos(0.2), std::sin(0.2));
  const Vector2d across(-along.y(), along.x());
  constexpr double kStep = 0.01;
  for (const PlaceParameter parameter : {kAcross, kAlong, kTurn, kGirth}) {
    BlankPlace next = place;
    double step = kStep;
    if (parameter == kAcross) next.centre_mm += kStep * across;
    if (parameter == kAlong) next.centre_mm += kStep * along;
    if (parameter == kTurn) next.heading_rad += step = kStep / 60.0;
    if (parameter == kGirth) next.girth_mm += kStep;
    const auto after = outline_samples(camera, example.blank, example.seat, next);
    int checked = 0;
    for (const OutlineSample& sample : before) {
      // the nearest point of the redrawn outline; along it the two differ by up to half the spacing
      double best = 1e9;
      double offset = 0.0;
      for (const OutlineSample& other : after) {
        if (other.part != sample.part) continue;
        const double distance = (other.px - sample.px).norm();
        if (distance >= best) continue;
        best = distance;
        offset = sample.normal_px.dot(other.px - sample.px);
      }
      if (best > 1.5) continue;
      ++checked;
      // a neighbour 1 px along an outline of 30 px radius, the smallest here, lies 1 / (2 * 30) px off the tangent
      EXPECT_NEAR(offset, sample.by_place[parameter] * step, 0.02) << example.name << " parameter " << parameter;
    }
    EXPECT_GT(checked, static_cast<int>(before.size() / 2));
  }
}

TEST_P(Outline, NormalsPointOutOfTheBlank) {
  const Case example = Outline::example(GetParam());
  const Camera camera = oblique_camera();
  const BlankPlace place{{150.0, 160.0}, 0.2, 0.0, 0.0};
  for (const OutlineSample& sample : outline_samples(camera, example.blank, example.seat, place))
    if (sample.part == OutlinePart::left || sample.part == OutlinePart::right) {
      EXPECT_GE(sample.by_place[kAcross] * (sample.part == OutlinePart::left ? 1.0 : -1.0), 0.0);
    }
}

TEST_P(Outline, LeavesOutWhatThePictureDoesNotHold) {
  const Case example = Outline::example(GetParam());
  const Camera camera = oblique_camera();
  for (const OutlineSample& sample :
       outline_samples(camera, example.blank, example.seat, {{150.0, -400.0}, 0.0, 0.0, 0.0})) {
    EXPECT_GE(sample.px.x(), 0.0);
    EXPECT_LE(sample.px.y(), camera.lens.height_px - 1.0);
  }
  EXPECT_TRUE(outline_samples(camera, example.blank, example.seat, {{5000.0, 5000.0}, 0.0, 0.0, 0.0}).empty());
}

// Drawn over the photo the outline follows the blank: no line cuts across it.
TEST_P(Outline, IsDrawnWithoutShortCuts) {
  const Case example = Outline::example(GetParam());
  std::size_t points = 0;
  for (const double heading : {0.2, 2.0, 4.5}) {
    const BlankPlace place{{150.0, 160.0}, heading, 0.0, 0.0};
    for (const Polyline2d& line : outline_polylines(oblique_camera(), example.blank, example.seat, place)) {
      for (std::size_t i = 1; i < line.size(); ++i) EXPECT_LT((line[i] - line[i - 1]).norm(), 24.0) << example.name;
      points += line.size();
    }
  }
  EXPECT_GT(points, 300U) << example.name;
}

INSTANTIATE_TEST_SUITE_P(Kinds, Outline, testing::Values(0, 1, 2));

TEST(OutlineOfAPlate, ShowsItsWallOnTheSideTowardsTheCamera) {
  const Camera camera = oblique_camera();
  double towards = 0.0;
  double away = 0.0;
  for (const OutlineSample& sample : outline_samples(camera, tag(), floor_seat(), {{150.0, 200.0}, 0.0, 0.0, 0.0})) {
    if (sample.part == OutlinePart::right)
      towards = std::max(towards, sample.wall_px);  // smaller Y: the camera stands there
    if (sample.part == OutlinePart::left) away = std::max(away, sample.wall_px);
  }
  EXPECT_GT(towards, 3.0);
  EXPECT_EQ(away, 0.0);
}

TEST(OutlineInAGroove, IsTheRimWhereThatComesFirst) {
  const Camera camera = oblique_camera();
  Seat deep = vee();
  deep.top_mm = 17.0;  // half open 11 mm, the limb well below the top face
  Blank slim;
  slim.shape = RoundBlank{8.0, 100.0};
  int rims = 0;
  for (const OutlineSample& sample : outline_samples(camera, slim, deep, {{150.0, 330.0}, 0.0, 0.0, 0.0})) {
    if (!sample.rim) continue;
    ++rims;
    EXPECT_EQ(sample.part, OutlinePart::right);
    EXPECT_NEAR(sample.point_mm.z(), 17.0, 1e-9);
    EXPECT_NEAR(sample.point_mm.y(), 330.0 - 11.0, 1e-9);
  }
  EXPECT_GT(rims, 20);
}

}  // namespace
}  // namespace jigtrue
