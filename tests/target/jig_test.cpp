// A jig drawn for the machine to make: checked as a program that imports the SVG reads it, and as a camera sees it.
#include "jigtrue/calibration/locate_by_marks.hpp"
#include "jigtrue/layout/artwork.hpp"
#include "jigtrue/target/jig_plan.hpp"
#include "support/input_error_text.hpp"
#include "support/patterns.hpp"

#include <cmath>
#include <string>
#include <vector>

#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr const char* kRods =
    R"("blank": { "kind": "round", "diameter_mm": 11, "length_mm": 120 }, "seat": { "floor_mm": 3, "top_mm": 9 })";
constexpr const char* kPens =
    R"("blank": { "kind": "turned", "profile_mm": [[0, 8], [10, 12], [100, 12], [140, 4]] },
       "seat": { "axis_height_mm": 13, "top_mm": 9 })";
constexpr const char* kCoasters =
    R"("blank": { "kind": "disc", "diameter_mm": 90, "thickness_mm": 4 }, "seat": { "floor_mm": 0, "top_mm": 3 })";
constexpr const char* kTags =
    R"("blank": { "kind": "plate", "width_mm": 62, "height_mm": 34, "thickness_mm": 3, "corner_radius_mm": 4 },
       "seat": { "floor_mm": 0, "top_mm": 3 })";

const Machine kBed{{400, 300}, OriginCorner::front_left, std::nullopt};
const std::string kTwoSlots =
    R"({"id": "1", "centre_mm": [200, 100], "axis_deg": 0}, {"id": "2", "centre_mm": [200, 200], "axis_deg": 90})";

Fixture fixture_of(const std::string& kind, const std::string& slots, const std::string& more = "") {
  return read_fixture(R"({"schema": "jigtrue.fixture/1", )" + kind + more + R"(, "slots": [)" + slots + "]}", "f");
}
Fixture rods_in_rows(int rows, double pitch_mm, const Machine& machine = kBed) {
  Fixture fixture = fixture_of(kRods, kTwoSlots);
  const Slot kind = fixture.slots.front();
  fixture.slots = slots_in_rows(kind, {rows, 1, pitch_mm, std::nullopt}, machine);
  return fixture;
}

// The lines of one colour, in the order of the file; y up from the bed's front edge, as the page is the bed.
std::vector<InkBox> lines_of(const std::string& svg, const std::string& colour) {
  std::vector<InkBox> boxes;
  for (const InkShape& shape : read_artwork(svg, "jig.svg").shapes) {
    if (!shape.stroke || shape.stroke->colour != colour) continue;
    InkBox box;
    for (const SubPath& path : shape.outline)
      for (const Vector2d& point : flattened(path, 0.0005)) box.hold(Vector2d(point.x(), kBed.bed_mm.y() - point.y()));
    boxes.push_back(box);
  }
  return boxes;
}
void expect_box(const InkBox& box, const Vector2d& low, const Vector2d& high) {
  EXPECT_LT((box.low - low).cwiseAbs().maxCoeff(), 0.002) << box.low.transpose() << " for " << low.transpose();
  EXPECT_LT((box.high - high).cwiseAbs().maxCoeff(), 0.002) << box.high.transpose() << " for " << high.transpose();
}
constexpr const char* kSlotColour = "#0072b2";

TEST(Jig, APocketHoldsItsBlankWithItsStartOnTheStop) {
  const auto rods = lines_of(jig_svg(jig_plan(fixture_of(kRods, kTwoSlots), kBed, {0.4, 0.0})), kSlotColour);
  ASSERT_EQ(rods.size(), 2U);
  expect_box(rods[0], {140, 100 - 5.9}, {260.4, 100 + 5.9});
  expect_box(rods[1], {200 - 5.9, 140}, {200 + 5.9, 260.4});  // its start lies at the front
  const std::string alone = R"({"id": "1", "centre_mm": [200, 100], "axis_deg": 0})";
  const auto discs = lines_of(jig_svg(jig_plan(fixture_of(kCoasters, alone), kBed, {0.5, 0.0})), kSlotColour);
  expect_box(discs[0], {200 - 45.5, 100 - 45.5}, {200 + 45.5, 100 + 45.5});
  const auto tags = lines_of(jig_svg(jig_plan(fixture_of(kTags, kTwoSlots), kBed, {0.3, 0.0})), kSlotColour);
  expect_box(tags[0], {200 - 31, 100 - 17.3}, {200 + 31.3, 100 + 17.3});
}

// A beam 0.2 mm wide takes 0.1 mm off either side of its line.
TEST(Jig, LinesAreDrawnInsideByHalfOfWhatTheBeamTakes) {
  const auto rods = lines_of(jig_svg(jig_plan(fixture_of(kRods, kTwoSlots), kBed, {0.4, 0.2})), kSlotColour);
  expect_box(rods[0], {140.1, 100 - 5.8}, {260.3, 100 + 5.8});
}

// Pythagoras: a barrel of radius 6 whose axis lies 4 above the edges that carry it touches them 2 sqrt(36 - 16) apart.
TEST(Jig, EdgesCarryALevelAxisWhereTheTopFaceCutsTheBlank) {
  const JigPlan plan =
      jig_plan(fixture_of(kPens, R"({"id": "1", "centre_mm": [200, 150], "axis_deg": 0})"), kBed, {0.4, 0.0});
  const auto pens = lines_of(jig_svg(plan), kSlotColour);
  ASSERT_EQ(pens.size(), 1U);
  EXPECT_NEAR(pens[0].size().y(), 2.0 * std::sqrt(20.0), 0.002);
  // the tip rises out of the sheet where it is 8 thick, at 100 + 40 (12 - 8) / (12 - 4) = 120 from the start
  EXPECT_NEAR(pens[0].high.x(), 130 + 120 + 0.4, 1.7);  // a piece of the profile is 40 / 24 long
  EXPECT_LE(pens[0].high.x(), 130 + 120 + 0.401);
  // wider by 0.1 at each edge, it sinks by 0.1 x sqrt(20) / 4
  EXPECT_NE(plan.notes.back().find("0.11 mm lower"), std::string::npos) << plan.notes.back();
}

TEST(Jig, SaysWhatCarriesTheBlanks) {
  EXPECT_NE(jig_plan(fixture_of(kRods, kTwoSlots), kBed, {}).notes.back().find("a floor 3 mm above"),
            std::string::npos);
  EXPECT_NE(jig_plan(fixture_of(kTags, kTwoSlots), kBed, {}).notes.back().find("cut through"), std::string::npos);
}

TEST(Jig, RowsLieAboutTheBedsMiddleWhicheverCornerIsItsOrigin) {
  Machine machine = kBed;
  machine.origin_corner = OriginCorner::back_right;
  const Fixture fixture = rods_in_rows(4, 20.0, machine);
  EXPECT_EQ(fixture.slots[0].id, "1");
  EXPECT_LT((fixture.slots[0].centre_mm - Vector2d(-200, -180)).norm(), 1e-9);
  EXPECT_LT((fixture.slots[3].centre_mm - Vector2d(-200, -120)).norm(), 1e-9);
  // the drawing's page is the bed all the same
  const auto lines = lines_of(jig_svg(jig_plan(fixture, machine, {})), kSlotColour);
  EXPECT_NEAR(lines[0].low.x(), 140.0, 0.002);
}

// The sheet as the machine burns it: black fields of the file's own group of marks.
cv::Mat1b burned_sheet(const std::string& svg, double px_per_mm) {
  cv::Mat1b sheet(static_cast<int>(kBed.bed_mm.y() * px_per_mm), static_cast<int>(kBed.bed_mm.x() * px_per_mm), 190);
  const std::string marks = test::first_match(svg, R"re(<g id="marks"[^>]*>([\s\S]*?)</g>)re").at(1);
  for (const test::Match& rect :
       test::all_matches(marks, R"re(<rect x="([-0-9.]+)" y="([-0-9.]+)" width="([0-9.]+)" height="([0-9.]+)")re")) {
    const auto px = [&](std::size_t i) { return static_cast<int>(std::lround(std::stod(rect[i]) * px_per_mm)); };
    sheet(cv::Rect(px(1), px(2), px(3), px(4))) = 40;
  }
  return sheet;
}

// Held 600 mm above the bed's middle, a little aslant, turned about the vertical.
Camera phone_above_bed(double turn_deg) {
  VectorXd parameters = VectorXd::Zero(9);
  parameters.head<4>() << 1500.0, 1500.0, 799.5, 799.5;
  Camera camera;
  camera.lens = make_lens(LensModel::radial5, 1600, 1600, parameters);
  const Matrix3d down = Vector3d(1, -1, -1).asDiagonal();
  camera.camera_from_bed.rotation =
      rotation_from_vector({0.12, -0.07, 0.0}) * down * rotation_from_vector({0.0, 0.0, rad_from_deg(turn_deg)});
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * Vector3d(180, 170, 600));
  return camera;
}

// The sheet lying at this height, seen through a lens without distortion: a homography.
cv::Mat1b photo_of(const cv::Mat1b& sheet, double px_per_mm, double height_mm, const Camera& camera) {
  std::vector<cv::Point2f> on_sheet;
  std::vector<cv::Point2f> in_photo;
  for (const Vector2d& px :
       {Vector2d(0, 0), Vector2d(sheet.cols, 0), Vector2d(sheet.cols, sheet.rows), Vector2d(0, sheet.rows)}) {
    const Vector3d bed((px.x() + 0.5) / px_per_mm, kBed.bed_mm.y() - (px.y() + 0.5) / px_per_mm, height_mm);
    const Vector2d seen = *project_bed_point(camera, bed);
    on_sheet.emplace_back(static_cast<float>(px.x()), static_cast<float>(px.y()));
    in_photo.emplace_back(static_cast<float>(seen.x()), static_cast<float>(seen.y()));
  }
  cv::Mat1b photo;
  cv::warpPerspective(sheet, photo, cv::getPerspectiveTransform(on_sheet, in_photo),
                      cv::Size(camera.lens.width_px, camera.lens.height_px), cv::INTER_LINEAR, cv::BORDER_CONSTANT,
                      120);
  return photo;
}

class JigInHand : public testing::TestWithParam<double> {};

TEST_P(JigInHand, ItsMarksTellItsSidesApart) {
  const JigPlan plan = jig_plan(rods_in_rows(5, 18.0), kBed, {});
  ASSERT_FALSE(plan.own_marks);
  constexpr double kPxPerMm = 5.0;
  cv::Mat1b sheet = burned_sheet(jig_svg(plan), kPxPerMm);
  cv::GaussianBlur(sheet, sheet, cv::Size(0, 0), 1.2);  // the photo has half as many pixels
  const Camera truth = phone_above_bed(GetParam());
  LensRecord lens;
  lens.lens = truth.lens;
  lens.covariance = MatrixXd::Zero(9, 9);
  lens.rms_px = lens.sigma0_px = lens.noise_px = 0.05;
  const auto located = locate_by_marks(photo_of(sheet, kPxPerMm, 9.0, truth), lens, plan.marks_mm);
  ASSERT_TRUE(located.ok()) << located.reason();
  EXPECT_EQ(located->used.size(), plan.marks_mm.size());
  for (const Slot& slot : rods_in_rows(5, 18.0).slots) {
    const Vector3d place(slot.centre_mm.x(), slot.centre_mm.y(), 9.0);
    const auto seen = bed_point_at(located->pose.camera, *project_bed_point(truth, place), 9.0);
    ASSERT_TRUE(seen);
    // whole pixels of the sheet are 0.2 mm: a drawn mark's centre is known to a small part of that
    EXPECT_LT((seen->mm - slot.centre_mm).norm(), 0.1) << slot.id;
  }
}
INSTANTIATE_TEST_SUITE_P(Turns, JigInHand, testing::Values(0.0, 90.0, 180.0, 270.0));

TEST(Jig, RefusesWhatCannotBeMade) {
  const auto refused = [](const Fixture& fixture, const std::string& says) {
    const std::string text = test::input_error_text([&] { (void)jig_plan(fixture, kBed, {}); });
    EXPECT_NE(text.find(says), std::string::npos) << text;
  };
  Fixture without_top = fixture_of(kRods, kTwoSlots);
  without_top.slots[1].seat.top_mm.reset();
  refused(without_top, "slot 2: its seat has no top_mm");
  // 11 of rod and twice 0.3 of play leave 0.4 of 12
  refused(rods_in_rows(3, 12.0), "leave only 0.4 mm of the sheet; a pitch larger by 1.6 mm");
  refused(rods_in_rows(20, 15.0), "reaches beyond the bed of 400 x 300 mm");
}

}  // namespace
}  // namespace jigtrue
