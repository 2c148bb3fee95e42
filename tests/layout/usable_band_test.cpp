#include "jigtrue/layout/usable_band.hpp"

#include "support/patterns.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

double deg(double value) { return value * kPi / 180.0; }

// Born & Wolf 1.5.2, n = 1.5, unpolarised: a table, to its own last digit.
TEST(UsableBand, ReflectsAsFresnelSays) {
  for (const auto& [angle, percent] : std::initializer_list<std::pair<double, double>>{
           {0, 4.00}, {20, 4.03}, {30, 4.15}, {40, 4.57}, {50, 5.77}, {60, 8.92}})
    EXPECT_NEAR(100.0 * reflected_share(deg(angle), 1.5), percent, 0.005) << angle;
  EXPECT_NEAR(reflected_share(deg(89.999), 1.5), 1.0, 1e-3);
  EXPECT_DOUBLE_EQ(relative_fluence(0.0, 1.5), 1.0);
  EXPECT_NEAR(relative_fluence(deg(30), 1.5), std::cos(deg(30)) * (1 - 0.0415) / 0.96, 1e-4);
}

// Common practice, no source: 5 to 6 mm of lettering on a barrel of 10 to 12 mm.
TEST(UsableBand, AgreesWithCommonPracticeOnPens) {
  for (const double diameter : {10.0, 11.0, 12.0}) {
    const Band band = usable_band(diameter / 2, {});
    EXPECT_NEAR(band.left_mm + band.right_mm, diameter / 2, 1e-9);  // 2 R sin 30
    EXPECT_DOUBLE_EQ(band.left_mm, band.right_mm);
    EXPECT_STREQ(band.bound, "incidence");
  }
}

TEST(UsableBand, EndsWhereTheFluenceOrTheFocusEnds) {
  BandLimits limits;
  limits.theta_max_deg = 60.0;
  limits.fluence_loss = 0.15;
  const Band by_fluence = usable_band(5.5, limits);
  EXPECT_STREQ(by_fluence.bound, "fluence");
  EXPECT_NEAR(relative_fluence(std::asin(by_fluence.left_mm / 5.5), 1.5), 0.85, 1e-9);

  // an M2 = 1.2 beam of 10.6 um with a spot of 100 um: z_R = pi 0.05^2 / (1.2 * 0.0106) = 0.6174 mm
  BandLimits focus;
  focus.spot_um = 100.0;
  focus.wavelength_nm = 10'600.0;
  focus.m2 = 1.2;
  focus.spot_growth = std::sqrt(2.0);
  EXPECT_NEAR(*depth_of_focus_mm(focus), 0.6174, 1e-4);
  const Band by_focus = usable_band(5.5, focus);
  EXPECT_STREQ(by_focus.bound, "depth of focus");
  const double drop = 5.5 - std::sqrt(5.5 * 5.5 - by_focus.left_mm * by_focus.left_mm);
  EXPECT_NEAR(drop, *depth_of_focus_mm(focus), 1e-9);
}

// Traces the ray from the head through a point of the crown's plane to the circle, with no formula of the program's.
struct Hit {
  double incidence_rad = 0.0;
  double drop_mm = 0.0;
};
Hit trace(double plan_mm, double radius, const Vector3d& head) {
  const Vector3d from(0.0, plan_mm, radius);
  const Vector3d way = (from - head).normalized();
  // (from + t way) lies on y^2 + z^2 = radius^2
  const double a = way.y() * way.y() + way.z() * way.z();
  const double b = from.y() * way.y() + from.z() * way.z();
  const double c = from.y() * from.y() + from.z() * from.z() - radius * radius;
  const double t = (-b - std::sqrt(std::max(0.0, b * b - a * c))) / a;
  const Vector3d at = from + t * way;
  const Vector3d normal = Vector3d(0.0, at.y(), at.z()) / radius;
  return {std::acos(-normal.dot(way)), radius - at.z()};
}

TEST(UsableBand, LeansTowardsAScanningHead) {
  constexpr double kRadius = 5.5;
  const double height = 200.0;
  // 10 degrees from the left
  const Vector3d head(0.0, height * std::tan(deg(10)), height + kRadius);
  const Vector3d b = (head - Vector3d(0, 0, kRadius)).normalized();
  const Band band = usable_band(kRadius, {}, {b.x(), b.y(), b.z()});
  EXPECT_NEAR((band.left_mm - band.right_mm) / 2.0, kRadius * std::tan(deg(10)), 0.06);  // 0.97: towards the head
  EXPECT_GT(band.left_mm, band.right_mm);
  // The program takes the beam as parallel over the barrel. From 203 mm away its direction turns by 1.07 degrees over
  // the 3.8 mm to the edge, and so turned it meets the flank, 0.8 mm lower, where the normal differs by 0.3 degrees.
  for (const double edge : {band.left_mm, -band.right_mm})
    EXPECT_NEAR(deg_from_rad(trace(edge, kRadius, head).incidence_rad), 30.0, 1.4);
  // far away it is parallel
  const Vector3d far = Vector3d(0, 0, kRadius) + b * 1e6;
  for (const double edge : {band.left_mm, -band.right_mm})
    EXPECT_NEAR(deg_from_rad(trace(edge, kRadius, far).incidence_rad), 30.0, 1e-3);
  // leaning along the axis it loses on both sides alike
  const Band along = usable_band(kRadius, {}, {std::sin(deg(20)), 0.0, std::cos(deg(20))});
  EXPECT_DOUBLE_EQ(along.left_mm, along.right_mm);
  EXPECT_NEAR(along.left_mm, kRadius * std::sin(std::acos(std::cos(deg(30)) / std::cos(deg(20)))), 1e-9);
  EXPECT_EQ(usable_band(kRadius, {}, {std::sin(deg(35)), 0.0, std::cos(deg(35))}).left_mm, 0.0);
}

TEST(UsableBand, UnrollsArcsOntoThePlan) {
  EXPECT_NEAR(plan_from_arc_mm(5.5 * deg(30), 5.5), 2.75, 1e-12);
  EXPECT_NEAR(plan_from_arc_mm(-5.5 * deg(30), 5.5), -2.75, 1e-12);
  // square incidence of a leaning beam passes the crown's plane at R tan(phi)
  EXPECT_NEAR(plan_from_arc_mm(5.5 * deg(10), 5.5, deg(10)), 5.5 * std::tan(deg(10)), 1e-12);
}

Fixture pen_jig(double design_height, double along = 0.0) {
  Fixture fixture;
  Slot slot;
  slot.id = "1";
  slot.centre_mm = {200, 150};
  slot.blank.shape = RoundBlank{11.0, 138.0};
  slot.seat.kind = VeeSeat{6.0, 90.0};
  slot.design = Design{75.0, design_height, along};
  fixture.slots = {slot};
  return fixture;
}

CheckResult measured(const Fixture& fixture, double u_across = 0.05, double diameter = 11.0) {
  CheckResult result;
  SlotResult slot;
  slot.id = "1";
  slot.state = SlotState::found;
  slot.numbers.emplace();
  slot.numbers->centre_mm = {200, 150};
  slot.numbers->along_mm = 0.0;
  slot.numbers->diameter_mm = diameter;
  slot.numbers->uncertainty.across_mm = u_across;
  slot.numbers->uncertainty.along_mm = 0.2;
  slot.design = DesignBox{fixture.slots[0].design->width_mm, fixture.slots[0].design->height_mm};
  result.slots = {slot};
  return result;
}

SlotResult judged(const Fixture& fixture, CheckResult result, const std::optional<Machine>& machine = std::nullopt) {
  judge_designs(fixture, result, machine);
  return result.slots[0];
}

// The band is 2 * 5.5 * sin(30) = 5.5 mm, with 0.05 off at either edge 5.4.
TEST(JudgeDesigns, FitsOnlyWithTheUncertaintyTakenOff) {
  for (const auto& [height, fits] : std::initializer_list<std::pair<double, bool>>{{5.39, true}, {5.41, false}}) {
    const Fixture fixture = pen_jig(height);
    const SlotResult slot = judged(fixture, measured(fixture));
    EXPECT_NEAR(*slot.usable_band_mm, 5.4, 1e-9);
    EXPECT_EQ(*slot.design_fits, fits);
    EXPECT_EQ(slot.state, SlotState::found);
  }
}

TEST(JudgeDesigns, CallsTheGreyZoneByItsName) {
  for (const auto& [height, grey] :
       std::initializer_list<std::pair<double, bool>>{{5.41, true}, {5.49, true}, {5.59, true}, {5.61, false}}) {
    const Fixture fixture = pen_jig(height);
    const SlotResult slot = judged(fixture, measured(fixture));
    EXPECT_EQ(*slot.design_fits, false);
    EXPECT_EQ(slot.design_note.starts_with("cannot be proved"), grey) << slot.design_note;
    EXPECT_NE(slot.design_note.find("reduce its height to 5.4 mm"), std::string::npos) << slot.design_note;
  }
}

TEST(JudgeDesigns, BelievesASlimmerBarrelNotAThickerOne) {
  const Fixture fixture = pen_jig(5.3);
  EXPECT_NEAR(*judged(fixture, measured(fixture, 0.05, 10.4)).usable_band_mm, 5.1, 1e-9);
  EXPECT_NEAR(*judged(fixture, measured(fixture, 0.05, 11.3)).usable_band_mm, 5.4, 1e-9);
}

TEST(JudgeDesigns, JudgesTheLengthToo) {
  // 69 mm from the middle to the end; 30 along leaves 39 ahead, 37.5 are asked for
  Fixture fixture = pen_jig(4.0, 30.0);
  EXPECT_TRUE(*judged(fixture, measured(fixture)).design_fits);
  fixture = pen_jig(4.0, 32.0);
  const SlotResult slot = judged(fixture, measured(fixture));
  EXPECT_FALSE(*slot.design_fits);
  EXPECT_NE(slot.design_note.find("reduce its length to 73.6 mm or move it 0.7 mm towards the start"),
            std::string::npos)
      << slot.design_note;
}

TEST(JudgeDesigns, NamesTheLengthFirstWhereItIsTheLimit) {
  // 150 mm on a pen of 138 mm: its height is no remedy
  Fixture fixture = pen_jig(4.0);
  fixture.slots[0].design->width_mm = 150.0;
  SlotResult slot = judged(fixture, measured(fixture));
  EXPECT_TRUE(slot.design_note.starts_with("the design is 150.00 mm long, the blank takes 138.00 mm"))
      << slot.design_note;
  EXPECT_NE(slot.design_note.find("reduce its length to 137.6 mm"), std::string::npos) << slot.design_note;
  // on a pen that tapers to a tip of 2.2 mm the design of 130 mm lies on the blank, but where 4 mm do not fit
  fixture.slots[0].blank.shape = TurnedBlank{{{0, 11}, {107, 11}, {138, 2.2}}};
  fixture.slots[0].design->width_mm = 130.0;
  slot = judged(fixture, measured(fixture));
  const test::Match m = test::first_match(
      slot.design_note,
      R"(^it reaches where the blank is too slim: reduce its length from 130.00 mm to ([\d.]+) mm, or its height: )");
  ASSERT_FALSE(m.empty()) << slot.design_note;
  // the remedy is what it says: a design that long fits, one of half a millimetre more does not
  for (const auto& [more, fits] : std::initializer_list<std::pair<double, bool>>{{0.0, true}, {0.5, false}}) {
    fixture.slots[0].design->width_mm = std::stod(m[1]) + more;
    EXPECT_EQ(*judged(fixture, measured(fixture)).design_fits, fits) << more;
  }
}

// The remedies are what they say: applied, the design fits; a tenth less of them, it does not.
TEST(JudgeDesigns, TellsHowFarToMoveUnderALeaningBeam) {
  Machine machine{{400, 400}, OriginCorner::front_left, Vector3d(200, 190, 240)};
  const Fixture fixture = pen_jig(4.6);
  const SlotResult slot = judged(fixture, measured(fixture), machine);
  EXPECT_FALSE(*slot.design_fits);
  EXPECT_GT(slot.room->left_mm, slot.room->right_mm);
  EXPECT_GT(slot.room->lean_deg, 5.0);
  const test::Match m =
      test::first_match(slot.design_note, R"(reduce its height to ([\d.]+) mm or move it ([\d.]+) mm to the left)");
  ASSERT_FALSE(m.empty()) << slot.design_note;
  const double smaller = std::stod(m[1]);
  const double move = std::stod(m[2]);
  const double u = slot.room->u_across_mm;
  EXPECT_LE(smaller / 2, slot.room->right_mm - u);
  EXPECT_GT(smaller / 2 + 0.05, slot.room->right_mm - u);
  EXPECT_LE(2.3 - move, slot.room->right_mm - u);
  EXPECT_GT(2.3 - move + 0.1, slot.room->right_mm - u);
  EXPECT_LE(2.3 + move, slot.room->left_mm - u);
}

TEST(JudgeDesigns, JudgesPlatesAndDiscsByTheirEdges) {
  Fixture fixture = pen_jig(20.0);
  fixture.slots[0].seat.kind = FloorSeat{6.0};
  fixture.slots[0].blank.shape = DiscBlank{90.0, 4.0};
  CheckResult result = measured(fixture);
  // half the diagonal of 75 x 20 is 38.8 of 45: fits; 75 x 50: 45.07 does not
  EXPECT_TRUE(*judged(fixture, result).design_fits);
  EXPECT_FALSE(judged(fixture, result).usable_band_mm);
  result.slots[0].design->height_mm = 50.0;
  EXPECT_FALSE(*judged(fixture, result).design_fits);
  fixture.slots[0].blank.shape = PlateBlank{80.0, 30.0, 3.0, 0.0};
  result.slots[0].design->height_mm = 29.8;
  EXPECT_TRUE(*judged(fixture, result).design_fits);
  result.slots[0].design->height_mm = 29.95;
  const SlotResult grey = judged(fixture, result);
  EXPECT_FALSE(*grey.design_fits);
  EXPECT_TRUE(grey.design_note.starts_with("cannot be proved")) << grey.design_note;
}

TEST(JudgeDesigns, TakesTheSlimmestPlaceUnderTheDesign) {
  Fixture fixture = pen_jig(4.0);
  fixture.slots[0].blank.shape = TurnedBlank{{{0, 10}, {60, 10}, {61, 8}, {138, 8}}};
  EXPECT_NEAR(*judged(fixture, measured(fixture, 0.05, 10.0)).usable_band_mm, 4.0 - 0.1, 1e-9);
  // a wider design than the one that was judged is not taken on trust
  SlotResult slot = judged(fixture, measured(fixture, 0.05, 10.0));
  slot.design = DesignBox{80.0, 2.0};
  judge_design(slot);
  EXPECT_NE(slot.design_note.find("--design"), std::string::npos);
}

TEST(SetDesignSize, KeepsThePlaceAlong) {
  Fixture fixture = pen_jig(4.0, -14.0);
  fixture.slots.push_back(fixture.slots[0]);
  fixture.slots[1].design.reset();
  set_design_size(fixture, {60, 4.7});
  EXPECT_DOUBLE_EQ(fixture.slots[0].design->height_mm, 4.7);
  EXPECT_DOUBLE_EQ(fixture.slots[0].design->along_mm, -14.0);
  EXPECT_FALSE(fixture.slots[1].design);
  fixture.slots.erase(fixture.slots.begin());
  set_design_size(fixture, {60, 4.7});
  EXPECT_TRUE(fixture.slots[0].design);
}

}  // namespace
}  // namespace jigtrue
