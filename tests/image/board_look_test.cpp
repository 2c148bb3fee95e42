#include "jigtrue/image/board_look.hpp"

#include <cmath>

#include "image/rendered_checkers.hpp"
#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

using test::board_pattern;
using test::look_at;
using test::Photograph;
using test::render;

constexpr BoardSpec kSmallBoard{8, 5, 20.0};
const cv::Size kFrame(640, 480);

struct DrawnBoard {
  cv::Mat1b luma;
  BoardCorners corners;
};
DrawnBoard drawn(double blur_px, double black, double white) {
  auto random = test::seeded_by_name();
  const test::View view =
      look_at(kFrame, {.centre_mm = {80.0, 50.0}, .px_per_mm = 3.0, .turn_deg = 11.0, .lean_deg = 12.0});
  Photograph how;
  how.blur_px = blur_px;
  how.light_falls_by = 0.0;
  how.samples = 6;
  DrawnBoard made{render(kFrame, view, board_pattern(8, 5, 20.0, 10.0, black, white), how, random), {}};
  made.corners.board = kSmallBoard;
  for (int row = 0; row < kSmallBoard.inner_rows(); ++row)
    for (int column = 0; column < kSmallBoard.inner_columns(); ++column)
      made.corners.px.push_back(view.px(kSmallBoard.corner_mm(column, row).head<2>()));
  return made;
}

TEST(BoardLook, TellsTheLevelsOfPaperAndInk) {
  const DrawnBoard board = drawn(1.0, 40.0, 200.0);
  const auto look = look_at_board(board.luma, board.corners);
  ASSERT_TRUE(look);
  EXPECT_NEAR(look->white, 200.0, 2.0);  // the noise's own mean over a field is far smaller
  EXPECT_NEAR(look->black, 40.0, 2.0);
  EXPECT_EQ(look->fields, 6 * 3);
  EXPECT_EQ(look->washed_out, 0);
}

// An edge blurred by a normal distribution rises from 10 to 90 % within 2 x 1.2816 sigma (tables of the normal
// distribution).
TEST(BoardLook, TellsHowWideTheEdgesAre) {
  for (const double blur_px : {0.8, 2.0, 4.0}) {
    const DrawnBoard board = drawn(blur_px, 40.0, 200.0);
    const auto look = look_at_board(board.luma, board.corners);
    ASSERT_TRUE(look);
    // interpolating between pixels blurs by a variance of 1/6 px^2 on the average over its two neighbours' shares
    const double as_sampled_px = std::sqrt(blur_px * blur_px + 1.0 / 6.0);
    EXPECT_GT(look->edge_px, 2.563 * blur_px * 0.95) << blur_px;
    EXPECT_LT(look->edge_px, 2.563 * as_sampled_px * 1.05) << blur_px;
  }
}

TEST(BoardLook, FindsWhereALampIsReflected) {
  DrawnBoard board = drawn(1.0, 40.0, 200.0);
  // over the upper left quarter of the picture
  for (int y = 0; y < board.luma.rows / 2; ++y)
    for (int x = 0; x < board.luma.cols / 2; ++x)
      board.luma(y, x) = cv::saturate_cast<unsigned char>(board.luma(y, x) + 140);
  const auto look = look_at_board(board.luma, board.corners);
  ASSERT_TRUE(look);
  EXPECT_GE(look->washed_out, 2);
  EXPECT_LT(look->washed_out_px.x(), 320.0);
  EXPECT_LT(look->washed_out_px.y(), 240.0);
}

// A lamp's image takes away the corners that it lies over; a hand does so, too, but is no brighter than paper.
TEST(BoardLook, TellsALampFromAHandWhereCornersAreLost) {
  for (const bool lamp : {true, false}) {
    DrawnBoard board = drawn(1.0, 40.0, 200.0);
    BoardCorners left;
    left.board = kSmallBoard;
    const Vector2d about = board.corners.px[static_cast<std::size_t>(kSmallBoard.inner_columns() + 3)];
    constexpr double kReach_px = 75.0;  // a field is 60 px wide
    for (std::size_t i = 0; i < board.corners.px.size(); ++i) {
      if ((board.corners.px[i] - about).cwiseAbs().maxCoeff() < kReach_px) continue;
      left.px.push_back(board.corners.px[i]);
      left.places.push_back(board.corners.place(i));
    }
    cv::rectangle(board.luma, cv::Point2d(about.x() - kReach_px, about.y() - kReach_px),
                  cv::Point2d(about.x() + kReach_px, about.y() + kReach_px), lamp ? 250 : 150, cv::FILLED);
    const auto look = look_at_board(board.luma, left);
    ASSERT_TRUE(look);
    if (lamp)
      EXPECT_GE(look->washed_out, 1);
    else
      EXPECT_EQ(look->washed_out, 0);
  }
}

// Of the outer squares two corners alone are found: what a lamp does to them shows all the same. A label is no brighter
// than paper.
TEST(BoardLook, TellsALampOverASingleSquare) {
  struct Over {
    const char* what;
    int column, row;
    double adds;
  };
  for (const Over& over : {Over{"black", 3, 2, 200.0}, Over{"white", 2, 2, 100.0}, Over{"outer black", 0, 0, 230.0},
                           Over{"outer, a label", 0, 0, 165.0}}) {
    DrawnBoard board = drawn(1.0, 40.0, 200.0);
    // by the corner that is nearest to the square's middle, half a square's step from it
    const auto corner = [&](int column, int row) {
      return board.corners.px[static_cast<std::size_t>(row * kSmallBoard.inner_columns() + column)];
    };
    const Vector2d along = corner(1, 0) - corner(0, 0);
    const Vector2d up = corner(0, 1) - corner(0, 0);
    const Vector2d middle = corner(0, 0) + (over.column - 0.5) * along + (over.row - 0.5) * up;
    const double reach_px = 0.4 * std::min(along.norm(), up.norm());
    for (int y = 0; y < board.luma.rows; ++y)
      for (int x = 0; x < board.luma.cols; ++x)
        if ((Vector2d(x, y) - middle).norm() < reach_px)
          board.luma(y, x) = cv::saturate_cast<unsigned char>(board.luma(y, x) + over.adds);
    const auto look = look_at_board(board.luma, board.corners);
    ASSERT_TRUE(look);
    const bool lamp = over.adds != 165.0;
    EXPECT_EQ(look->washed_out, lamp ? 1 : 0) << over.what;
    if (lamp) {
      EXPECT_LT((look->washed_out_px - middle).norm(), reach_px) << over.what;
    }
  }
}

TEST(BoardLook, HoldsItsTongueWithoutAWholeField) {
  DrawnBoard board = drawn(1.0, 40.0, 200.0);
  board.corners.px.resize(3);
  EXPECT_FALSE(look_at_board(board.luma, board.corners));
}

TEST(BrightLevel, IsWhatATenthOfThePictureExceeds) {
  cv::Mat1b picture(100, 100, static_cast<unsigned char>(30));
  picture.rowRange(0, 20).setTo(90);
  EXPECT_EQ(bright_level(picture), 90.0);
  picture.rowRange(5, 20).setTo(30);
  EXPECT_EQ(bright_level(picture), 30.0);
}

}  // namespace
}  // namespace jigtrue
