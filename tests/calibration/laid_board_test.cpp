#include "jigtrue/calibration/laid_board.hpp"

#include "jigtrue/calibration/declared_slips.hpp"
#include "jigtrue/calibration/turned_photos.hpp"

#include <cmath>

#include "calibration/synthetic.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

const Camera& camera_over_board() {
  static const Camera camera = synthetic::overhead_camera(synthetic::barrel_lens());
  return camera;
}

LensRecord lens_known_exactly() {
  LensRecord lens;
  lens.lens = camera_over_board().lens;
  lens.covariance = MatrixXd::Zero(lens.lens.parameters.size(), lens.lens.parameters.size());
  lens.rms_px = 0.1;
  return lens;
}

BoardPlacement lying(double angle_deg) {
  BoardPlacement placement;
  placement.x_mm = 170;
  placement.y_mm = 190;
  placement.angle_deg = angle_deg;
  placement.height_mm = 3;
  return placement;
}

// Corners as they lie, numbered as the placement speaks of them.
BoardCorners as_it_lies(const BoardSpec& board, const BoardPlacement& placement, const std::vector<GridPlace>& places) {
  BoardCorners corners;
  corners.board = board;
  corners.places = places;
  for (const GridPlace& place : places)
    corners.px.push_back(
        *project_bed_point(camera_over_board(), bed_from_board(placement) * board.corner_mm(place.column, place.row)));
  return corners;
}

std::vector<GridPlace> block(int columns, int rows) {
  std::vector<GridPlace> places;
  for (int row = 0; row < rows; ++row)
    for (int column = 0; column < columns; ++column) places.push_back({column, row});
  return places;
}

// The same corners as a finder might number them: the sheet seen with its axes turned by so many quarters.
BoardCorners read_another_way(const BoardCorners& corners, int quarters, const GridPlace& from) {
  BoardCorners other = corners;
  for (GridPlace& place : other.places) {
    GridPlace at = place;
    for (int i = 0; i < quarters; ++i) at = {at.row, -at.column};
    place = {at.column + from.column, at.row + from.row};
  }
  return other;
}

PhotoTop true_top() { return photo_stand(camera_over_board()).top; }
PhotoTop opposite(PhotoTop top) { return turned(top, PhotoTurn::half); }

TEST(LaidBoard, ThatReadsOneWayNeedsNoHelp) {
  const BoardCorners corners = as_it_lies({10, 7, 15.0}, lying(20), block(9, 6));
  const auto laid = lay_board(lens_known_exactly(), corners, lying(20), {});
  ASSERT_TRUE(laid) << laid.reason();
  EXPECT_EQ(laid->places, corners.places);
}

// 9 x 7 and 8 x 8 read two ways, 7 x 7 four: whichever the finder took, the photo's top decides.
TEST(LaidBoard, ThatReadsSeveralWaysLiesAsThePhotosTopSays) {
  for (const BoardSpec& board : {BoardSpec{9, 7, 15.0}, BoardSpec{8, 8, 15.0}, BoardSpec{7, 7, 15.0}})
    for (const double angle_deg : {0.0, 20.0, 95.0, -160.0})
      for (int quarters = 0; quarters < 4; quarters += 4 / board.readings()) {
        const BoardPlacement placement = lying(angle_deg);
        const BoardCorners truth = as_it_lies(board, placement, block(board.inner_columns(), board.inner_rows()));
        const GridPlace last{board.inner_columns() - 1, board.inner_rows() - 1};
        const GridPlace from = quarters == 0   ? GridPlace{0, 0}
                               : quarters == 1 ? GridPlace{0, last.column}
                               : quarters == 2 ? last
                                               : GridPlace{last.row, 0};
        const BoardCorners found = read_another_way(truth, quarters, from);
        const auto laid = lay_board(lens_known_exactly(), found, placement, {true_top(), {}});
        ASSERT_TRUE(laid) << laid.reason();
        EXPECT_EQ(laid->places, truth.places) << board.columns << " " << angle_deg << " " << quarters;
        const auto unsaid = lay_board(lens_known_exactly(), found, placement, {});
        ASSERT_FALSE(unsaid);
        EXPECT_NE(unsaid.reason().find("--photo-top"), std::string::npos) << unsaid.reason();
      }
}

TEST(LaidBoard, NoWayOfReadingAgreesWithAContradiction) {
  const BoardPlacement placement = lying(0);
  const BoardCorners corners = as_it_lies({9, 7, 15.0}, placement, block(8, 6));
  const PhotoTop aside = turned(true_top(), PhotoTurn::quarter);
  const auto laid = lay_board(lens_known_exactly(), corners, placement, {aside, {}});
  ASSERT_FALSE(laid);
  EXPECT_NE(laid.reason().find("whichever way the board reads"), std::string::npos) << laid.reason();
}

// Any block of corners, numbered from anywhere and turned anyhow; its origin one that is seen, or one that a hand
// covers.
TEST(LaidBoard, APartLiesAsTopAndOriginSay) {
  const BoardPlacement placement = lying(-35);
  for (const GridPlace& hidden : {GridPlace{99, 99}, GridPlace{-1, -1}}) {
    std::vector<GridPlace> places;
    for (const GridPlace& at : block(7, 5)) {
      const GridPlace place{at.column - 3, at.row - 2};
      if (place != hidden) places.push_back(place);  // (-1, -1) is the corner that the placement speaks of
    }
    const BoardCorners truth = as_it_lies({20, 15, 15.0}, placement, places);
    const Vector2d origin_px =
        *project_bed_point(camera_over_board(), bed_from_board(placement) * Vector3d(4.0, -3.0, 0.0));
    for (int quarters = 0; quarters < 4; ++quarters) {
      BoardCorners found = read_another_way(truth, quarters, {5, -7});
      found.whole = false;
      const auto laid = lay_board(lens_known_exactly(), found, placement, {true_top(), origin_px});
      ASSERT_TRUE(laid) << laid.reason();
      EXPECT_EQ(laid->places, truth.places) << quarters;
      const auto pose = fit_pose_to_board(lens_known_exactly(), *laid, 1600, 1200, placement);
      ASSERT_TRUE(pose) << pose.reason();
      EXPECT_LT((pose->camera.centre_mm() - camera_over_board().centre_mm()).norm(), 1e-3);
      const auto upside_down = lay_board(lens_known_exactly(), found, placement, {opposite(true_top()), origin_px});
      ASSERT_TRUE(upside_down);
      EXPECT_NE(upside_down->places, truth.places);
    }
  }
}

TEST(LaidBoard, APartAsksForBothOptionsByName) {
  BoardCorners part = as_it_lies({20, 15, 15.0}, lying(0), block(5, 4));
  part.whole = false;
  const Vector2d corner = part.px[7];
  EXPECT_NE(lay_board(lens_known_exactly(), part, lying(0), {}).reason().find("--photo-top"), std::string::npos);
  EXPECT_NE(lay_board(lens_known_exactly(), part, lying(0), {true_top(), {}}).reason().find("--origin-px"),
            std::string::npos);
  const auto off_board = lay_board(lens_known_exactly(), part, lying(0), {true_top(), Vector2d(5.0, 5.0)});
  EXPECT_NE(off_board.reason().find("no printed corner lies near"), std::string::npos) << off_board.reason();
  const auto midway = lay_board(lens_known_exactly(), part, lying(0), {true_top(), 0.5 * (corner + part.px[8])});
  EXPECT_NE(midway.reason().find("no printed corner lies near"), std::string::npos) << midway.reason();
  EXPECT_TRUE(lay_board(lens_known_exactly(), part, lying(0), {true_top(), corner}));
}

// A photo turned by a quarter clockwise shows at its top what it showed at its left.
TEST(PhotoTopOfATurnedPhoto, IsTheSideThatComesUp) {
  EXPECT_EQ(turned(PhotoTop::back, PhotoTurn::quarter), PhotoTop::left);
  EXPECT_EQ(turned(PhotoTop::back, PhotoTurn::half), PhotoTop::front);
  EXPECT_EQ(turned(PhotoTop::back, PhotoTurn::three_quarters), PhotoTop::right);
  EXPECT_EQ(turned(PhotoTop::right, PhotoTurn::quarter), PhotoTop::back);
}

}  // namespace
}  // namespace jigtrue
