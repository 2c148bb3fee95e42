#include "jigtrue/report/calibration_page.hpp"

#include "jigtrue/calibration/map_uncertainty.hpp"
#include "jigtrue/report/photo_advice.hpp"
#include "support/html.hpp"
#include "support/patterns.hpp"

#include <cmath>
#include <limits>
#include <stdexcept>

#include "calibration/synthetic.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

const CalibrationPageNotes kNotes{"board 10x7x25, 12 photos", "2024-05-01T12:00:00Z", "0.1.0"};
BoardPlacement placed_at() {
  BoardPlacement placement;
  placement.x_mm = 80;
  placement.y_mm = 110;
  placement.height_mm = 3;
  return placement;
}
PosePageInputs at_height(double height_mm) { return {height_mm, nullptr, synthetic::kBoard, placed_at(), 0.0}; }
const PosePageInputs kInputs = at_height(14.0);

const LensFit& fitted_lens() {
  static const LensFit fit = [] {
    auto scene = synthetic::make_scene(synthetic::barrel_lens(), 12, 0.08, 81);
    scene.photos[3].corners = Failure{"no board is to be seen"};
    return fit_lens(scene.photos);
  }();
  return fit;
}

struct Posed {
  PoseFit pose;
  CameraRecord record;
};
const Posed& posed() {
  static const Posed result = [] {
    Posed made;
    made.record.lens = lens_record(fitted_lens(), {}, {synthetic::kBoard, "", ""});
    Matrix3d down;
    down << 1, 0, 0, 0, -1, 0, 0, 0, -1;
    Camera above{synthetic::barrel_lens(), {rotation_from_vector({0.2, 0.1, -0.3}) * down, Vector3d::Zero()}, {}};
    above.camera_from_bed.translation = -(above.camera_from_bed.rotation * Vector3d(190, 150, 430));
    const BoardPlacement placement = placed_at();
    std::mt19937 random(82);
    std::normal_distribution<double> normal(0.0, 0.08);
    BoardCorners corners;
    corners.board = synthetic::kBoard;
    for (int j = 0; j < 54; ++j) {
      const auto px = project_bed_point(above, bed_from_board(placement) * synthetic::kBoard.corner_mm(j % 9, j / 9));
      corners.px.emplace_back(*px + Vector2d(normal(random), normal(random)));
      corners.sigma_px.push_back(0.08);
    }
    auto pose = fit_pose_to_board(made.record.lens, corners, 1600, 1200, placement);
    if (!pose) throw std::logic_error(pose.reason());
    made.pose = std::move(pose).value();
    made.record.camera = made.pose.camera;
    made.record.witness = {{{40, 60}, {300, 900}, 0.02}};
    return made;
  }();
  return result;
}

void expect_self_contained(const std::string& html) {
  for (const char* word : {"http://", "https://", "<script", "@import", "url(", "<img", "<link"})
    EXPECT_EQ(html.find(word), std::string::npos) << word;
  EXPECT_NE(html.find("default-src 'none'"), std::string::npos);
  EXPECT_NE(html.find("lang=\"en\""), std::string::npos);
  EXPECT_NE(html.find("prefers-color-scheme:dark"), std::string::npos);
  EXPECT_NE(html.find("@media print"), std::string::npos);
  test::expect_balanced(html);
}

TEST(LensPage, IsSelfContainedAndWellFormed) { expect_self_contained(lens_page(fitted_lens(), {}, kNotes)); }
TEST(PosePage, IsSelfContainedAndWellFormed) {
  expect_self_contained(pose_page(posed().pose, posed().record, kInputs, kNotes));
}

TEST(LensPage, NamesEveryPhotoAndWhyOneWasLeftOut) {
  const std::string html = lens_page(fitted_lens(), {}, kNotes);
  for (const PhotoFit& photo : fitted_lens().photos)
    EXPECT_EQ(test::occurrences(html, ">" + photo.file + "</th>"), 1u) << photo.file;
  EXPECT_EQ(test::occurrences(html, "&nbsp;left out</span>"), 1u);
  EXPECT_EQ(test::occurrences(html, "&nbsp;used</span>"), 11u);
  EXPECT_NE(html.find("no board is to be seen"), std::string::npos);
}

TEST(LensPage, ComparesTheModelsAndSaysWhy) {
  const std::string html = lens_page(fitted_lens(), {}, kNotes);
  EXPECT_EQ(test::occurrences(html, "&nbsp;chosen</span>"), 1u);
  ASSERT_GE(fitted_lens().trials.size(), 3u);
  for (const ModelTrial& trial : fitted_lens().trials) {
    EXPECT_NE(html.find(std::string("scope=\"row\">") + to_string(trial.model)), std::string::npos);
    EXPECT_NE(html.find(trial.remark.substr(0, 20)), std::string::npos) << trial.remark;
  }
}

TEST(LensPage, ShowsWhatIsNotCovered) {
  const std::string html = lens_page(fitted_lens(), {}, kNotes);
  const auto empty = static_cast<std::size_t>(coverage(fitted_lens()).empty());
  ASSERT_GT(empty, 0u);
  EXPECT_EQ(test::occurrences(html, ">none</text>"), empty);
  EXPECT_EQ(test::occurrences(html, "class=\"gap\""), empty);
  for (const std::string& sentence : next_photos(fitted_lens())) EXPECT_NE(html.find(sentence), std::string::npos);
}

TEST(LensPage, EscapesHostileText) {
  const std::string evil = "\"><script>alert('1')</script>&\x01\xFF";
  LensFit fit = fitted_lens();
  fit.notes = {evil};
  for (PhotoFit& photo : fit.photos) photo.file = photo.reason = evil;
  for (ModelTrial& trial : fit.trials) trial.remark = evil;
  const std::string html = lens_page(fit, {evil}, {evil, evil, evil});
  test::expect_balanced(html);
  EXPECT_EQ(html.find("<script"), std::string::npos);
  EXPECT_EQ(html.find('\x01'), std::string::npos);
  PoseFit pose = posed().pose;
  pose.notes = {evil};
  const std::string other = pose_page(pose, posed().record, kInputs, {evil, evil, evil});
  test::expect_balanced(other);
  EXPECT_EQ(other.find("<script"), std::string::npos);
}

TEST(LensPage, RefusesWhatIsNotFinite) {
  LensFit fit = fitted_lens();
  fit.rms_px = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THROW((void)lens_page(fit, {}, kNotes), std::logic_error);
  EXPECT_THROW((void)pose_page(posed().pose, posed().record, at_height(std::nan("")), kNotes), std::logic_error);
}

// Each row's numbers are what the map gives at the very pixel that is printed.
TEST(PosePage, GivesTheMapsOwnNumbers) {
  const double height = 14.0;
  const std::string html = pose_page(posed().pose, posed().record, at_height(height), kNotes);
  const std::string row =
      R"re(scope="row" class="nobreak">([-0-9.]+), ([-0-9.]+)</th>.*?>([-0-9.]+), ([-0-9.]+)</td>.*?<b>([0-9.]+)&nbsp;mm</b>.*?>([0-9.]+)&nbsp;mm</td>.*?>([0-9.]+)&nbsp;mm</td>.*?>([0-9.]+)&nbsp;mm</td></tr>)re";
  int rows = 0;
  for (const test::Match& match : test::all_matches(html, row)) {
    ++rows;
    const auto number = [&](std::size_t i) { return std::stod(match.at(i)); };
    const auto point = map_point(posed().record, {number(1), number(2)}, 0.0);
    const auto raised = map_point(posed().record, {number(1), number(2)}, height);
    ASSERT_TRUE(point && raised);
    constexpr double kPrinted = 0.00051;  // three decimals
    EXPECT_NEAR(number(3), point->bed_mm.x(), kPrinted);
    EXPECT_NEAR(number(4), point->bed_mm.y(), kPrinted);
    EXPECT_NEAR(number(5), point->radius_95_mm, kPrinted);
    EXPECT_NEAR(number(7), radius_95(point->pose_share_mm2), kPrinted);
    EXPECT_NEAR(number(8), raised->radius_95_mm, kPrinted);
    EXPECT_LE(number(6), number(5) + kPrinted);
    EXPECT_GT(number(6), 0.0);
  }
  EXPECT_EQ(rows, 9);
}

TEST(PosePage, DrawsTheMapsAndTheirScale) {
  const std::string html = pose_page(posed().pose, posed().record, at_height(12.5), kNotes);
  EXPECT_EQ(test::occurrences(html, "<figcaption>"), 7u);  // the photo, four maps, two of what is left over
  EXPECT_NE(html.find("12.50 mm above the bed</figcaption>"), std::string::npos);
  EXPECT_EQ(test::occurrences(html, "<title>Scale of the maps, mm</title>"), 2u);
  EXPECT_EQ(test::occurrences(html, "class=\"point\""), 4u * 54u);
  EXPECT_GT(test::occurrences(html, "class=\"on-light\"") + test::occurrences(html, "class=\"on-dark\""), 60u);
  CameraRecord unwatched = posed().record;
  unwatched.witness.clear();
  EXPECT_NE(pose_page(posed().pose, unwatched, kInputs, kNotes).find("No witness marks"), std::string::npos);
}

// --- coverage, tilt and advice ---

LensFit covered_by(const std::vector<Vector2d>& places, const std::vector<NearEdge>& near_edges) {
  LensFit fit;
  fit.lens = make_lens(LensModel::radial5, 1600, 1200, synthetic::vector({1400, 1400, 800, 600, 0, 0, 0, 0, 0}));
  PhotoFit everywhere;
  everywhere.used = true;
  for (const Vector2d& px : places) everywhere.points.push_back({Vector3d(50, 50, 0), px, 1.0});
  everywhere.point_used.assign(places.size(), 1);
  Matrix3d facing;  // the printed face looks at the camera
  facing << 1, 0, 0, 0, -1, 0, 0, 0, -1;
  everywhere.camera_from_board = {facing, {-50, 50, 500}};
  fit.photos.push_back(everywhere);
  for (const NearEdge edge : near_edges) {
    PhotoFit photo;
    photo.used = true;
    photo.points = {{Vector3d(0, 0, 0), {800, 600}, 1.0}};
    photo.point_used = {1};
    const double angle = rad_from_deg(30);
    // about the picture's axes: x to the right, y down, z away
    const Vector3d turn = edge == NearEdge::left    ? Vector3d(0, -angle, 0)
                          : edge == NearEdge::right ? Vector3d(0, angle, 0)
                          : edge == NearEdge::upper ? Vector3d(angle, 0, 0)
                                                    : Vector3d(-angle, 0, 0);
    photo.camera_from_board = {rotation_from_vector(turn) * facing, {0, 0, 500}};
    fit.photos.push_back(photo);
  }
  return fit;
}

std::vector<Vector2d> all_fields() {
  std::vector<Vector2d> places;
  for (int row = 0; row < 6; ++row)
    for (int column = 0; column < 8; ++column) places.emplace_back(200.0 * column + 100.0, 200.0 * row + 100.0);
  return places;
}
const std::vector<NearEdge> kAllEdges = {NearEdge::left, NearEdge::right, NearEdge::upper, NearEdge::lower};

TEST(Coverage, CountsCornersByField) {
  const LensFit fit = covered_by({{-0.5, -0.5}, {0.0, 0.0}, {199.4, 10.0}, {199.6, 10.0}, {1599.4, 1199.4}}, {});
  const Coverage covered = coverage(fit);
  EXPECT_EQ(covered.at(0, 0), 3);  // the first field ends where pixel 199 does, at 199.5
  EXPECT_EQ(covered.at(1, 0), 1);
  EXPECT_EQ(covered.at(7, 5), 1);
  EXPECT_EQ(covered.empty(), 45);
}

// The edge that is called near is nearer, told by the depths of the board's own edges.
TEST(BoardTilt, NearEdgeIsNearer) {
  const LensFit fit = covered_by({{800, 600}}, kAllEdges);
  const std::vector<Vector3d> edge_points = {
      {-50, 0, 0}, {50, 0, 0}, {0, 50, 0}, {0, -50, 0}};  // left right upper lower
  for (std::size_t i = 0; i < 4; ++i) {
    const PhotoFit& photo = fit.photos[i + 1];
    const BoardTilt tilt = board_tilt(photo);
    EXPECT_NEAR(tilt.angle_deg, 30.0, 1e-9);
    std::size_t nearest = 0;
    for (std::size_t k = 1; k < 4; ++k)
      if ((photo.camera_from_board * edge_points[k]).z() < (photo.camera_from_board * edge_points[nearest]).z())
        nearest = k;
    EXPECT_EQ(tilt.near_edge, static_cast<NearEdge>(nearest));
    EXPECT_EQ(nearest, i);
  }
}

TEST(NextPhotos, NoneWhenAllIsCovered) { EXPECT_TRUE(next_photos(covered_by(all_fields(), kAllEdges)).empty()); }

TEST(NextPhotos, NamesTheEmptyCornerAndTheRareTilt) {
  std::vector<Vector2d> places;
  for (const Vector2d& px : all_fields())
    if (px.x() < 1000.0 || px.y() > 400.0) places.push_back(px);
  const auto advice = next_photos(covered_by(places, {NearEdge::left, NearEdge::right, NearEdge::lower}));
  ASSERT_EQ(advice.size(), 1u);
  EXPECT_NE(advice[0].find("upper right corner"), std::string::npos) << advice[0];
  EXPECT_NE(advice[0].find("its upper edge tilted towards the camera"), std::string::npos) << advice[0];
}

TEST(NextPhotos, NamesAMissingTiltAlone) {
  const auto advice = next_photos(covered_by(all_fields(), {NearEdge::left, NearEdge::upper, NearEdge::lower}));
  ASSERT_EQ(advice.size(), 1u);
  EXPECT_NE(advice[0].find("its right edge"), std::string::npos) << advice[0];
}

TEST(NextPhotos, KeepsToThreeSentences) { EXPECT_EQ(next_photos(covered_by({{800, 600}}, {})).size(), 3u); }

TEST(NextPhotos, NamesThePhotosWhoseBoardsAreAllHeldAlike) {
  LensFit fit = covered_by(all_fields(), {NearEdge::left, NearEdge::left, NearEdge::left});
  fit.photos.erase(fit.photos.begin());
  for (std::size_t i = 0; i < fit.photos.size(); ++i) fit.photos[i].file = "held-" + std::to_string(i) + ".jpg";
  const auto advice = next_photos(fit);
  ASSERT_FALSE(advice.empty());
  EXPECT_NE(advice[0].find("always held alike, with its left edge near (held-0.jpg, held-1.jpg, held-2.jpg)"),
            std::string::npos)
      << advice[0];
  fit.photos[1].camera_from_board.rotation = covered_by({}, {NearEdge::right}).photos[1].camera_from_board.rotation;
  EXPECT_EQ(next_photos(fit)[0].find("always held alike"), std::string::npos);
}

// --- single photos ---

PhotoLook good_photo(const std::string& file) {
  BoardLook look;
  look.white = 200.0;
  look.black = 40.0;
  look.edge_px = 2.4;
  look.field_px = 60.0;
  look.fields = 40;
  return {file, look, 210.0};
}

TEST(PhotoFaults, NoneOfGoodPhotos) {
  EXPECT_TRUE(photo_faults({good_photo("a.jpg"), good_photo("b.jpg")}, 1600, 1200).empty());
  EXPECT_TRUE(photo_faults({}, 1600, 1200).empty());
}

TEST(PhotoFaults, NameThePhotoAndWhatToDo) {
  std::vector<PhotoLook> photos = {good_photo("good-1.jpg"), good_photo("good-2.jpg"), good_photo("soft.jpg"),
                                   good_photo("dark.jpg"),   good_photo("lamp.jpg"),   {"black.jpg", {}, 20.0}};
  photos[2].board->edge_px = 7.0;
  photos[3].board->white = 50.0;
  photos[4].board->washed_out = 5;
  photos[4].board->washed_out_px = {1500.0, 100.0};
  const auto faults = photo_faults(photos, 1600, 1200);
  ASSERT_EQ(faults.size(), 4u);
  EXPECT_EQ(faults[0].find("soft.jpg is soft (edges 7.0 px wide, others' 2.4 px)"), 0u) << faults[0];
  EXPECT_EQ(faults[1].find("dark.jpg is dark (paper at 50 of 255)"), 0u) << faults[1];
  EXPECT_EQ(faults[2].find("lamp.jpg has a reflection over 5 squares, in the upper right"), 0u) << faults[2];
  EXPECT_EQ(faults[3].find("black.jpg is too dark for the board to be found"), 0u) << faults[3];
}

}  // namespace
}  // namespace jigtrue
