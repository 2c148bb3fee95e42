#include "jigtrue/layout/sketch_layout.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// A pinhole of 1000 px, 400 mm above the bed over (200, 150), looking straight down; the photo is turned so that bed X
// points up in it and bed Y to the left.
Camera overhead() {
  Camera camera;
  VectorXd parameters = VectorXd::Zero(4 + distortion_count(LensModel::radial5));
  parameters.head<4>() << 1000.0, 1000.0, 800.0, 600.0;
  camera.lens = make_lens(LensModel::radial5, 1600, 1200, parameters);
  Matrix3d rotation;
  rotation << 0, -1, 0, -1, 0, 0, 0, 0, -1;
  camera.camera_from_bed.rotation = rotation;
  camera.camera_from_bed.translation = -(rotation * Vector3d(200, 150, 400));
  return camera;
}

Fixture overhead_jig() {
  Fixture fixture;
  Slot slot;
  slot.id = "1";
  slot.centre_mm = {200, 150};
  slot.axis_deg = 90.0;
  slot.blank.shape = RoundBlank{10.0, 120.0};
  slot.seat.kind = FloorSeat{5.0};
  slot.design = Design{60.0, 4.0, 20.0};
  fixture.slots = {slot};
  return fixture;
}

CheckResult measured_load(const Fixture& fixture) {
  CheckResult result;
  SlotResult slot;
  slot.id = "1";
  slot.state = SlotState::found;
  slot.nominal_axis_deg = 90.0;
  slot.nominal_centre_mm = {200, 170};
  slot.design = DesignBox{60.0, 4.0};
  slot.numbers.emplace();
  slot.numbers->centre_mm = {201, 171};
  slot.numbers->axis_deg = 91.0;
  slot.numbers->along_mm = 1.0;
  slot.numbers->uncertainty = {0.95, 0.05, 0.2, 0.03, 0.06};
  result.slots = with_design_planes(overhead(), fixture, {slot});
  return result;
}

TEST(SketchLayout, TellsWhichWayTheBedLies) {
  const auto seen = bed_directions(overhead(), {180, 140});
  ASSERT_TRUE(seen);
  EXPECT_NEAR((seen->x - Vector2d(0, -1)).norm(), 0.0, 1e-9);
  EXPECT_NEAR((seen->y - Vector2d(-1, 0)).norm(), 0.0, 1e-9);
}

// The crown lies 15 mm above the bed: 385 mm from the lens, 1000 / 385 px to the mm.
TEST(SketchLayout, MapsTheDesignsPlaneToThePhoto) {
  const CheckResult result = measured_load(overhead_jig());
  ASSERT_TRUE(result.slots[0].sketch.photo_from_design);
  const double scale = 1000.0 / 385.0;
  const double a = rad_from_deg(91.0);
  for (const Vector2d& at : {Vector2d(0, 0), Vector2d(30, 2), Vector2d(-25, -1)}) {
    const Vector2d bed = Vector2d(201, 171) + Vector2d(std::cos(a) * at.x() - std::sin(a) * at.y(),
                                                       std::sin(a) * at.x() + std::cos(a) * at.y());
    const Vector2d px = Vector2d(800, 600) + scale * Vector2d(-(bed.y() - 150), -(bed.x() - 200));
    const Vector2d got = (*result.slots[0].sketch.photo_from_design * Vector3d(at.x(), at.y(), 1.0)).hnormalized();
    EXPECT_NEAR((got - px).norm(), 0.0, 1e-6);
  }
}

TEST(SketchLayout, DrawsTheArtworkOfReadySlotsOnly) {
  const Fixture fixture = overhead_jig();
  CheckResult result = measured_load(fixture);
  const Artwork art = read_artwork(
      R"x(<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="4mm" viewBox="0 0 60 4"><rect width="60" height="4"/></svg>)x",
      "a.svg");
  sketch_art(common_art(art), result);
  ASSERT_EQ(result.slots[0].sketch.art.size(), 1u);
  EXPECT_TRUE(result.slots[0].sketch.art[0].filled);
  const Polyline2d& box = result.slots[0].sketch.art[0].px;
  EXPECT_EQ(box.front(), box.back()) << "filled, so closed";
  // drawings have y down, across runs up: the drawing's upper left corner lies at (-30, +2)
  const Vector2d corner = (*result.slots[0].sketch.photo_from_design * Vector3d(-30.0, 2.0, 1.0)).hnormalized();
  EXPECT_NEAR((box.front() - corner).norm(), 0.0, 1e-6);
  result.slots[0].design_fits = false;
  sketch_art(common_art(art), result);
  EXPECT_TRUE(result.slots[0].sketch.art.empty());
}

}  // namespace
}  // namespace jigtrue
