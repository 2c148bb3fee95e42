#include "jigtrue/image/board.hpp"

#include "jigtrue/image/read_photo.hpp"
#include "support/input_error_text.hpp"

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <random>
#include <string>
#include <vector>

#include "image/rendered_checkers.hpp"
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

using test::board_pattern;
using test::look_at;
using test::Pose;
using test::render;
using test::seeded_by_name;
using test::View;
using testing::HasSubstr;

const BoardSpec kBoard{10, 7, 25.0};
const Vector2d kMiddle(125.0, 87.5);

// ---- the option --------------------------------------------------------------------------------------------------

TEST(BoardSpec, ReadsColumnsRowsAndSquare) {
  const BoardSpec board = parse_board_spec("10x7x25");
  EXPECT_EQ(board.columns, 10);
  EXPECT_EQ(board.rows, 7);
  EXPECT_EQ(board.square_mm, 25.0);
  EXPECT_EQ(board.corner_count(), 54);
  EXPECT_EQ(board.corner_mm(0, 0), Vector3d(25.0, 25.0, 0.0));
}

TEST(BoardSpec, TurnsABoardGivenWithItsShortSideFirst) {
  const BoardSpec board = parse_board_spec("6X9x12.5");
  EXPECT_EQ(board.columns, 9);
  EXPECT_EQ(board.rows, 6);
  EXPECT_EQ(board.square_mm, 12.5);
}

TEST(BoardSpec, RefusesWhatIsNoBoard) {
  for (const char* text : {"", "10", "10x7", "10x7x", "x7x25", "10x7x25x3", "10.5x7x25", "10x7x25mm", "tenx7x25",
                           "10x7x-25", "10x7x0", "10x7xnan", "10x7xinf", "-10x7x25", "2x7x25", "101x10x25", "10 x7x25",
                           "99999999999999999999x7x25", "10x7x5000"}) {
    const std::string message = test::input_error_text([&] { (void)parse_board_spec(text); });
    EXPECT_THAT(message, HasSubstr(text));
    EXPECT_THAT(message, HasSubstr("--board"));
  }
}

TEST(BoardSpec, TellsHowManyWaysItReads) {
  for (const auto& [text, readings] :
       {std::pair{"10x7x25", 1}, {"7x10x25", 1}, {"10x6x25", 2}, {"8x8x25", 2}, {"9x7x25", 2}, {"7x7x25", 4}})
    EXPECT_EQ(parse_board_spec(text).readings(), readings) << text;
}

// ---- rendered boards ---------------------------------------------------------------------------------------------

struct Errors {
  std::vector<Vector2d> px;
  std::vector<double> sigma_px;

  void add(const BoardCorners& corners, const View& view) {
    for (std::size_t i = 0; i < corners.px.size(); ++i) {
      px.push_back(corners.px[i] - view.px(corners.corner_mm(i).head<2>()));
      sigma_px.push_back(corners.sigma_px[i]);
    }
  }
  [[nodiscard]] double rms() const {  // of the distance
    double sum = 0.0;
    for (const Vector2d& e : px) sum += e.squaredNorm();
    return std::sqrt(sum / static_cast<double>(px.size()));
  }
  [[nodiscard]] Vector2d mean() const {
    Vector2d sum = Vector2d::Zero();
    for (const Vector2d& e : px) sum += e;
    return sum / static_cast<double>(px.size());
  }
  [[nodiscard]] double largest() const {
    double most = 0.0;
    for (const Vector2d& e : px) most = std::max(most, e.norm());
    return most;
  }
  [[nodiscard]] double reduced_chi_square() const {
    double sum = 0.0;
    for (std::size_t i = 0; i < px.size(); ++i) sum += px[i].squaredNorm() / (sigma_px[i] * sigma_px[i]);
    return sum / (2.0 * static_cast<double>(px.size()));
  }
};

Pose random_pose(std::mt19937_64& random, double px_per_mm) {
  std::uniform_real_distribution<double> any(0.0, 360.0);
  std::uniform_real_distribution<double> lean(0.0, 30.0);
  std::uniform_real_distribution<double> shift(-40.0, 40.0);
  return {kMiddle, px_per_mm, any(random), lean(random), any(random), {shift(random), shift(random)}};
}

class BoardAccuracy : public testing::TestWithParam<double> {};

// Targets: 0.017 to 0.02 px is what general finders reach on such pictures (measured; see the bounds of the erf model).
TEST_P(BoardAccuracy, CornersAreTrueAndTheirSigmaHonest) {
  auto random = seeded_by_name();
  const cv::Size size(1000, 760);
  Errors errors;
  constexpr int kPhotos = 5;
  for (int photo = 0; photo < kPhotos; ++photo) {
    const View view = look_at(size, random_pose(random, 2.0));
    const cv::Mat1b luma = render(size, view, board_pattern(10, 7, 25.0, 8.0), {GetParam(), 2.0, 0.2}, random);
    const auto corners = find_board(luma, kBoard);
    ASSERT_TRUE(corners.ok()) << corners.reason();
    errors.add(*corners, view);
  }
  RecordProperty("rms_px", std::to_string(errors.rms()));
  RecordProperty("chi_square", std::to_string(errors.reduced_chi_square()));
  EXPECT_LE(errors.rms(), 0.02);
  EXPECT_LE(errors.mean().cwiseAbs().maxCoeff(), 0.005);
  EXPECT_LE(errors.largest(), 0.08);
  // 540 independent values: the reduced chi-square scatters by sqrt(2 / 540) = 0.061; four times that, and on the upper
  // side 10 % more for the sigmas' own scatter (each rests on one window's residuals). Below 1 px of blur a pixel's
  // square area shows in the residuals: without any noise the fit still states 0.0021 px (measured) of the 0.0042 here,
  // which makes variances 1/4 too large; the floor of 0.002 px adds 1/6.
  EXPECT_LE(errors.reduced_chi_square(), 1.0 + 4.0 * 0.061 + 0.1);
  const double stated_too_large = GetParam() < 1.0 ? 1.25 + 1.0 / 6.0 : 1.0;
  EXPECT_GE(errors.reduced_chi_square(), (1.0 - 4.0 * 0.061) / stated_too_large);
}
INSTANTIATE_TEST_SUITE_P(Blur, BoardAccuracy, testing::Values(0.7, 1.0, 1.5));

TEST(FindBoard, ReadsTheBoardInOneOrderHoweverItIsTurned) {
  auto random = seeded_by_name();
  const cv::Size size(800, 700);
  for (int turn = 0; turn < 360; turn += 30) {
    const View view = look_at(size, {kMiddle, 2.0, turn + 3.0, 15.0, 50.0, {0.0, 0.0}});
    const cv::Mat1b luma = render(size, view, board_pattern(10, 7, 25.0, 5.0), {1.0, 2.0, 0.1}, random);
    const auto corners = find_board(luma, kBoard);
    ASSERT_TRUE(corners.ok()) << turn << " deg: " << corners.reason();
    Errors errors;
    errors.add(*corners, view);
    EXPECT_LE(errors.largest(), 0.08) << turn << " deg";
  }
}

// The other parity: the two black corner squares then lie on one long side, and on a short one above.
TEST(FindBoard, ReadsABoardWithAnOddLongSide) {
  auto random = seeded_by_name();
  const BoardSpec board{9, 6, 20.0};
  const cv::Size size(700, 600);
  for (int turn = 0; turn < 360; turn += 60) {
    const View view = look_at(size, {{90.0, 60.0}, 2.2, turn + 10.0, 10.0, 0.0, {0.0, 0.0}});
    const cv::Mat1b luma = render(size, view, board_pattern(9, 6, 20.0, 5.0), {1.0, 2.0, 0.1}, random);
    const auto corners = find_board(luma, board);
    ASSERT_TRUE(corners.ok()) << turn << " deg: " << corners.reason();
    Errors errors;
    errors.add(*corners, view);
    EXPECT_LE(errors.largest(), 0.08) << turn << " deg";
  }
}

// Large enough that the board is looked for in a shrunk copy: half a pixel lost there would show as a bias.
TEST(FindBoard, LosesNoHalfPixelInALargePhoto) {
  auto random = seeded_by_name();
  const cv::Size size(2503, 1877);  // no multiple of the shrinking
  const View view = look_at(size, {kMiddle, 5.0, 20.0, 20.0, 120.0, {60.0, -40.0}});
  const cv::Mat1b luma = render(size, view, board_pattern(10, 7, 25.0, 8.0), {1.0, 2.0, 0.2}, random);
  const auto corners = find_board(luma, kBoard);
  ASSERT_TRUE(corners.ok()) << corners.reason();
  Errors errors;
  errors.add(*corners, view);
  EXPECT_LE(errors.rms(), 0.02);
  EXPECT_LE(errors.mean().cwiseAbs().maxCoeff(), 0.005);
}

// At 630 px from the middle, the picture's corner, this lens shows what an ideal one would show at 749 px.
TEST(FindBoard, FollowsAWideLens) {
  auto random = seeded_by_name();
  const cv::Size size(1000, 760);
  Errors errors;
  for (int photo = 0; photo < 4; ++photo) {
    const View view = look_at(size, random_pose(random, 2.3), 4e-7);
    const cv::Mat1b luma = render(size, view, board_pattern(10, 7, 25.0, 8.0), {0.8, 2.0, 0.2}, random);
    const auto corners = find_board(luma, kBoard);
    ASSERT_TRUE(corners.ok()) << corners.reason();
    errors.add(*corners, view);
  }
  EXPECT_LE(errors.rms(), 0.02);
  EXPECT_LE(errors.mean().cwiseAbs().maxCoeff(), 0.005);
}

TEST(FindBoard, FindsABoardOnAHoneycombBed) {
  auto random = seeded_by_name();
  const cv::Size size(1300, 1000);
  const View view = look_at(size, {kMiddle, 2.6, 110.0, 20.0, 40.0, {0.0, 0.0}});
  const auto board = board_pattern(10, 7, 25.0, 3.0);
  const auto on_bed = [&](const Vector2d& p) {
    const bool off = p.x() < -3.0 || p.y() < -3.0 || p.x() > 253.0 || p.y() > 178.0;
    return off ? test::honeycomb(p) : board(p);
  };
  const auto corners = find_board(render(size, view, on_bed, {1.0, 2.0, 0.2, 8}, random), kBoard);
  ASSERT_TRUE(corners.ok()) << corners.reason();
  Errors errors;
  errors.add(*corners, view);
  EXPECT_LE(errors.rms(), 0.02);
}

// A drawing without noise, squarely seen: a corner midway between pixels looks the same from two or four of them. Drawn
// four times as large, so that the blur is a lens's and not one of whole pixels, which would shift upright edges.
// Squares of 12 px are too small for a second look at half the size.
TEST(FindBoard, ReadsADrawingWhoseCornersLieAnywhereBetweenPixels) {
  auto random = seeded_by_name();
  const BoardSpec board{6, 5, 10.0};
  const auto pattern = board_pattern(board.columns, board.rows, board.square_mm, 5.0, 0.0, 255.0);
  for (const double x : {0.0, 0.25, 0.5, 0.75}) {
    for (const double y : {0.0, 0.25, 0.5, 0.75}) {
      View view;
      view.px_from_mm << 1.2, 0.0, 14.0 + x, 0.0, -1.2, 74.0 + y, 0.0, 0.0, 1.0;
      View large;
      large.px_from_mm << 4.8, 0.0, 4.0 * (14.5 + x) - 0.5, 0.0, -4.8, 4.0 * (74.5 + y) - 0.5, 0.0, 0.0, 1.0;
      const cv::Mat1b drawn = render({400, 352}, large, pattern, {4.0 * 0.75, 0.0, 0.0}, random);
      cv::Mat1b luma;
      cv::resize(drawn, luma, {100, 88}, 0.0, 0.0, cv::INTER_AREA);
      const auto corners = find_board(luma, board);
      ASSERT_TRUE(corners.ok()) << x << ", " << y << ": " << corners.reason();
      Errors errors;
      errors.add(*corners, view);
      EXPECT_LE(errors.rms(), 0.02) << x << ", " << y;
    }
  }
}

TEST(FindBoard, FindsAStronglyBlurredBoard) {
  auto random = seeded_by_name();
  const cv::Size size(1000, 760);
  const View view = look_at(size, {kMiddle, 2.6, 33.0, 10.0, 0.0, {0.0, 0.0}});
  const cv::Mat1b luma = render(size, view, board_pattern(10, 7, 25.0, 8.0), {5.0, 2.0, 0.2}, random);
  const auto corners = find_board(luma, kBoard);
  ASSERT_TRUE(corners.ok()) << corners.reason();
  Errors errors;
  errors.add(*corners, view);
  EXPECT_LE(errors.largest(), 0.3);
}

// ---- what must be refused ----------------------------------------------------------------------------------------

cv::Mat1b flat_board(std::mt19937_64& random, const test::Pattern& pattern) {
  const cv::Size size(800, 620);
  return render(size, look_at(size, {kMiddle, 2.2, 8.0, 8.0, 30.0, {0.0, 0.0}}), pattern, {1.0, 2.0, 0.1}, random);
}

TEST(FindBoardRefuses, CornersCountedInsteadOfSquares) {
  auto random = seeded_by_name();
  const auto corners = find_board(flat_board(random, board_pattern(10, 7, 25.0, 8.0)), {9, 6, 25.0});
  ASSERT_FALSE(corners.ok());
  EXPECT_THAT(corners.reason(), HasSubstr("found a board of 10x7 squares"));
  EXPECT_THAT(corners.reason(), HasSubstr("were corners counted instead of squares?"));
}

TEST(FindBoardRefuses, ABoardOfAnotherSize) {
  auto random = seeded_by_name();
  const cv::Mat1b luma = flat_board(random, board_pattern(10, 7, 25.0, 8.0));
  for (const BoardSpec& board : {BoardSpec{8, 5, 25.0}, BoardSpec{12, 7, 25.0}, BoardSpec{10, 9, 25.0},
                                 BoardSpec{11, 6, 25.0}, BoardSpec{8, 7, 25.0}}) {
    const auto corners = find_board(luma, board);
    ASSERT_FALSE(corners.ok()) << board.columns << "x" << board.rows;
    EXPECT_THAT(corners.reason(), HasSubstr("10x7"));
  }
}

// ---- parts ---------------------------------------------------------------------------------------------------------

// The board's own corner that each of a part's is: the part's frame may be shifted by an even number of squares and
// turned by multiples of 90 degrees.
std::vector<GridPlace> true_places(const BoardCorners& part, const View& view) {
  std::vector<GridPlace> places;
  for (const Vector2d& px : part.px) {
    GridPlace best;
    double nearest = 1e9;
    for (int row = 0; row < part.board.inner_rows(); ++row)
      for (int column = 0; column < part.board.inner_columns(); ++column) {
        const double d = (view.px(part.board.corner_mm(column, row).head<2>()) - px).norm();
        if (d >= nearest) continue;
        nearest = d;
        best = {column, row};
      }
    places.push_back(best);
  }
  return places;
}

void expect_true_part(const BoardCorners& part, const View& view, double largest_px) {
  const std::vector<GridPlace> truth = true_places(part, view);
  ASSERT_FALSE(part.px.empty());
  // The frame: what one step of the part's columns and rows is on the board, from every pair of neighbours alike.
  const auto step_between = [&](const GridPlace& step) {
    std::vector<GridPlace> steps;
    for (std::size_t i = 0; i < part.px.size(); ++i)
      for (std::size_t j = 0; j < part.px.size(); ++j)
        if (part.place(j) == GridPlace{part.place(i).column + step.column, part.place(i).row + step.row})
          steps.push_back({truth[j].column - truth[i].column, truth[j].row - truth[i].row});
    EXPECT_FALSE(steps.empty());
    for (const GridPlace& each : steps) EXPECT_EQ(each, steps.front());
    return steps.empty() ? GridPlace{} : steps.front();
  };
  const GridPlace by_column = step_between({1, 0});
  const GridPlace by_row = step_between({0, 1});
  EXPECT_EQ(by_column.column * by_row.row - by_column.row * by_row.column, 1) << "Z out of the face";
  for (std::size_t i = 0; i < part.px.size(); ++i) {
    const Vector2d at = view.px(part.board.corner_mm(truth[i].column, truth[i].row).head<2>());
    EXPECT_LE((part.px[i] - at).norm(), largest_px) << truth[i].column << ", " << truth[i].row;
    // black to the lower left, in the part's own axes: an odd number of quarter turns makes that another square
    const bool turned = by_column.column == 0;
    const bool even = (part.place(i).column + part.place(i).row) % 2 == 0;
    EXPECT_EQ(even, ((truth[i].column + truth[i].row) % 2 == 0) != turned);
  }
}

View flat_view() { return look_at({800, 620}, {kMiddle, 2.2, 8.0, 8.0, 30.0, {0.0, 0.0}}); }

TEST(FindBoardParts, WhatThePictureHoldsOfABoard) {
  auto random = seeded_by_name();
  const cv::Mat1b luma = flat_board(random, board_pattern(10, 7, 25.0, 8.0));
  for (const int cut : {330, 410, 490}) {
    const auto part = find_board(luma(cv::Rect(0, 0, cut, luma.rows)).clone(), kBoard);
    ASSERT_TRUE(part.ok()) << cut << ": " << part.reason();
    EXPECT_FALSE(part->whole);
    // every corner that lies well inside is there
    std::size_t inside = 0;
    for (int row = 0; row < 6; ++row)
      for (int column = 0; column < 9; ++column)
        inside += flat_view().px(kBoard.corner_mm(column, row).head<2>()).x() < cut - 6.0 ? 1U : 0U;
    EXPECT_GE(part->px.size(), inside) << cut;
    expect_true_part(*part, flat_view(), 0.15);
  }
}

TEST(FindBoardParts, ABoardThatRunsOffThePictureOnAllSides) {
  auto random = seeded_by_name();
  const BoardSpec board{20, 15, 15.0};
  const cv::Size size(640, 480);
  for (const double turn : {0.0, 20.0, 45.0}) {
    const View view = look_at(size, {{150.0, 112.5}, 3.5, turn, 15.0, 60.0, {0.0, 0.0}});
    const cv::Mat1b luma = render(size, view, board_pattern(20, 15, 15.0, 8.0), {1.0, 2.0, 0.1}, random);
    const auto part = find_board(luma, board);
    ASSERT_TRUE(part.ok()) << turn << ": " << part.reason();
    EXPECT_GE(part->px.size(), 70U) << turn;
    expect_true_part(*part, view, 0.15);
  }
}

TEST(FindBoardParts, ACoveredCornerOrFieldCostsNoOtherCorner) {
  auto random = seeded_by_name();
  const auto whole = board_pattern(10, 7, 25.0, 8.0);
  const auto corner_covered = [&](const Vector2d& p) {
    return (p - Vector2d(100.0, 75.0)).norm() < 14.0 ? 95.0 : whole(p);
  };
  const auto end_covered = [&](const Vector2d& p) {
    return (p - Vector2d(225.0, 150.0)).norm() < 14.0 ? 95.0 : whole(p);
  };
  const auto code_in_field = [&](const Vector2d& p) {
    return (p - Vector2d(112.5, 87.5)).norm() < 7.0 ? 240.0 - whole(p) : whole(p);
  };
  const std::vector<std::pair<test::Pattern, std::size_t>> cases{
      {corner_covered, 53}, {end_covered, 53}, {code_in_field, 54}};
  for (const auto& [pattern, count] : cases) {
    const auto corners = find_board(flat_board(random, pattern), kBoard);
    ASSERT_TRUE(corners.ok()) << corners.reason();
    EXPECT_TRUE(corners->whole);
    EXPECT_EQ(corners->px.size(), count);
    Errors errors;
    errors.add(*corners, flat_view());
    EXPECT_LE(errors.largest(), 0.08);
  }
}

TEST(FindBoardParts, TheRestOfACoveredBoard) {
  auto random = seeded_by_name();
  const auto whole = board_pattern(10, 7, 25.0, 8.0);
  // a hand over one end, a strip of paper across the middle: slanted, so that they follow no line of the board
  const auto hand = [&](const Vector2d& p) { return p.x() + 0.3 * p.y() > 215.0 ? 150.0 : whole(p); };
  const auto strip = [&](const Vector2d& p) { return std::abs(p.x() - 125.0 + 0.1 * p.y()) < 10.0 ? 210.0 : whole(p); };
  for (const test::Pattern& pattern : {test::Pattern(hand), test::Pattern(strip)}) {
    const auto part = find_board(flat_board(random, pattern), kBoard);
    ASSERT_TRUE(part.ok()) << part.reason();
    EXPECT_GE(part->px.size(), 36U);
    expect_true_part(*part, flat_view(), 0.15);
  }
}

TEST(FindBoardParts, FewerThanFourByFourSquaresAreNone) {
  auto random = seeded_by_name();
  const cv::Mat1b luma = flat_board(random, board_pattern(10, 7, 25.0, 8.0));
  const auto part = find_board(luma(cv::Rect(0, 0, 255, luma.rows)).clone(), kBoard);
  ASSERT_FALSE(part.ok());
  EXPECT_THAT(part.reason(), HasSubstr("4x4 squares"));
}

TEST(FindBoard, ReadsBoardsOfAnyCounts) {
  auto random = seeded_by_name();
  for (const BoardSpec& board : {BoardSpec{7, 5, 30.0}, BoardSpec{9, 7, 22.0}, BoardSpec{8, 8, 22.0},
                                 BoardSpec{7, 7, 24.0}, BoardSpec{8, 6, 25.0}, BoardSpec{4, 4, 40.0}}) {
    for (const double turn : {5.0, 100.0, 200.0, 290.0}) {
      const cv::Size size(800, 700);
      const Vector2d middle(0.5 * board.columns * board.square_mm, 0.5 * board.rows * board.square_mm);
      const View view = look_at(size, {middle, 2.0, turn, 15.0, 50.0, {0.0, 0.0}});
      const auto pattern = board_pattern(board.columns, board.rows, board.square_mm, 5.0);
      const auto corners = find_board(render(size, view, pattern, {1.0, 2.0, 0.1}, random), board);
      ASSERT_TRUE(corners.ok()) << board.columns << "x" << board.rows << ": " << corners.reason();
      EXPECT_TRUE(corners->whole);
      EXPECT_EQ(static_cast<int>(corners->px.size()), board.corner_count());
      expect_true_part(*corners, view, 0.08);
    }
  }
}

// ---- what must be refused, once more -----------------------------------------------------------------------------

TEST(FindBoardRefuses, TwoBoards) {
  auto random = seeded_by_name();
  const auto one = board_pattern(10, 7, 11.0, 4.0);
  const auto two = [&](const Vector2d& p) { return one(p.x() > 125.0 ? Vector2d(p.x() - 130.0, p.y()) : p); };
  const auto corners = find_board(flat_board(random, two), kBoard);
  ASSERT_FALSE(corners.ok());
  EXPECT_THAT(corners.reason(), HasSubstr("more than one board"));
}

// As where the board stands before a screen that shows what the camera sees.
TEST(FindBoard, TakesTheLargeOneWhereASmallOneIsInViewToo) {
  auto random = seeded_by_name();
  const auto one = board_pattern(10, 7, 15.0, 4.0);
  const auto two = [&](const Vector2d& p) { return one(p.x() > 160.0 ? 3.0 * Vector2d(p.x() - 170.0, p.y()) : p); };
  const auto corners = find_board(flat_board(random, two), kBoard);
  ASSERT_TRUE(corners.ok()) << corners.reason();
  EXPECT_TRUE(corners->whole);
  EXPECT_NEAR(corners->square_px, 30.0, 1.5);
}

// A lamp's image on a glossy print adds light, up to where the sensor is full, and its rim falls off within a few
// squares: corners stay where they are, and what is stated of each holds.
TEST(FindBoard, AReflectionMovesNoCorner) {
  auto random = seeded_by_name();
  const cv::Size size(1000, 760);
  Errors errors;
  for (const Vector2d& lamp : {Vector2d(420.0, 330.0), Vector2d(640.0, 420.0), Vector2d(500.0, 250.0)}) {
    const View view = look_at(size, random_pose(random, 2.0));
    cv::Mat1b luma = render(size, view, board_pattern(10, 7, 25.0, 8.0), {1.0, 2.0, 0.2}, random);
    for (int y = 0; y < luma.rows; ++y)
      for (int x = 0; x < luma.cols; ++x) {
        const double far = (Vector2d(x, y) - lamp).squaredNorm() / (2.0 * 60.0 * 60.0);
        luma(y, x) = cv::saturate_cast<unsigned char>(static_cast<double>(luma(y, x)) + 180.0 * std::exp(-far));
      }
    const auto corners = find_board(luma, kBoard);
    ASSERT_TRUE(corners.ok()) << corners.reason();
    errors.add(*corners, view);
  }
  RecordProperty("rms_px", std::to_string(errors.rms()));
  RecordProperty("largest_px", std::to_string(errors.largest()));
  RecordProperty("chi_square", std::to_string(errors.reduced_chi_square()));
  EXPECT_EQ(errors.px.size(), 3U * 54U);
  EXPECT_LE(errors.rms(), 0.02);
  EXPECT_LE(errors.largest(), 0.08);
  EXPECT_LE(errors.reduced_chi_square(), 1.1 + 4.0 * std::sqrt(2.0 / 324.0));
}

TEST(FindBoardRefuses, PicturesWithoutABoard) {
  auto random = seeded_by_name();
  std::uniform_int_distribution<int> grey(0, 255);
  const cv::Size size(640, 480);
  std::vector<cv::Mat1b> pictures{cv::Mat1b(size, static_cast<unsigned char>(120))};
  cv::Mat1b noise(size);
  for (auto& value : noise) value = static_cast<unsigned char>(grey(random));
  pictures.push_back(noise);
  // Blocks in random colours: corners everywhere, no grid.
  cv::Mat1b blocks(size);
  std::vector<int> colours(std::size_t{64} * 48);
  for (int& colour : colours) colour = grey(random) < 128 ? 30 : 220;
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x)
      blocks(y, x) =
          static_cast<unsigned char>(colours[static_cast<std::size_t>(y / 10) * 64 + static_cast<std::size_t>(x / 10)]);
  pictures.push_back(blocks);
  // A honeycomb of thin walls.
  cv::Mat1b honeycomb(size);
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x) {
      double nearest = 1e9;
      double second = 1e9;
      for (int row = static_cast<int>(y / 13.856) - 1; row <= static_cast<int>(y / 13.856) + 2; ++row)
        for (int column = x / 16 - 1; column <= x / 16 + 2; ++column) {
          const double d = std::hypot(x - (column + 0.5 * (row % 2 != 0)) * 16.0, y - row * 13.856);
          if (d < nearest) {
            second = nearest;
            nearest = d;
          } else {
            second = std::min(second, d);
          }
        }
      honeycomb(y, x) = second - nearest < 2.0 ? 190 : 50;
    }
  pictures.push_back(honeycomb);
  for (std::size_t i = 0; i < pictures.size(); ++i) {
    const auto corners = find_board(pictures[i], kBoard);
    ASSERT_FALSE(corners.ok()) << "picture " << i;
    EXPECT_FALSE(corners.reason().empty());
  }
}

TEST(FindBoardRefuses, ImpossibleRequestsAreTheProgrammersMistake) {
  EXPECT_THROW((void)find_board(cv::Mat1b(), kBoard), std::logic_error);
  EXPECT_THROW((void)find_board(cv::Mat1b(100, 100), {7, 10, 25.0}), std::logic_error);
}

// ---- real and ray-traced photos ------------------------------------------------------------------------------------

struct Calibration {
  double rms_px = 0.0;
  double worst_view_px = 0.0;
};

// A general-purpose calibrator over the corners of all photos.
Calibration calibrate(const std::vector<BoardCorners>& photos, const cv::Size& size, int flags) {
  std::vector<std::vector<cv::Point3f>> objects;
  std::vector<std::vector<cv::Point2f>> images;
  for (const BoardCorners& corners : photos) {
    objects.emplace_back();
    images.emplace_back();
    for (std::size_t i = 0; i < corners.px.size(); ++i) {
      const Vector3d mm = corners.corner_mm(i);
      objects.back().emplace_back(static_cast<float>(mm.x()), static_cast<float>(mm.y()), 0.0F);
    }
    images.back().reserve(corners.px.size());
    for (const Vector2d& p : corners.px)
      images.back().emplace_back(static_cast<float>(p.x()), static_cast<float>(p.y()));
  }
  cv::Mat camera, distortion, intrinsic_sd, extrinsic_sd, view_rms;
  std::vector<cv::Mat> rotations, translations;
  Calibration result;
  result.rms_px = cv::calibrateCamera(objects, images, size, camera, distortion, rotations, translations, intrinsic_sd,
                                      extrinsic_sd, view_rms, flags,
                                      cv::TermCriteria(cv::TermCriteria::COUNT + cv::TermCriteria::EPS, 300, 1e-12));
  cv::minMaxLoc(view_rms, nullptr, &result.worst_view_px);
  return result;
}

std::vector<BoardCorners> find_all(const std::vector<std::filesystem::path>& files, const BoardSpec& board,
                                   cv::Size& size) {
  std::vector<BoardCorners> found;
  found.reserve(files.size());
  for (const auto& file : files) {
    const Photo photo = read_photo(file, PhotoColour::luma_only);
    size = photo.luma.size();
    auto corners = find_board(photo.luma, board);
    EXPECT_TRUE(corners.ok()) << file.filename() << ": " << corners.reason();
    if (corners) found.push_back(std::move(corners).value());
  }
  return found;
}

// Debian's opencv-doc carries 13 pairs of photos of a board of 10 x 7 squares. Best published handling of these corners
// (half-window 0.3 x the smallest spacing): RMS 0.1805 px, worst view 0.237, on the left ones, five coefficients.
TEST(FindBoardInPhotos, SamplePhotosOfAGeneralLibrary) {
  const std::filesystem::path folder = "/usr/share/doc/opencv-doc/examples/data";
  if (!std::filesystem::exists(folder / "left01.jpg")) GTEST_SKIP() << "the package opencv-doc is not installed";
  for (const std::string side : {"left", "right"}) {
    std::vector<std::filesystem::path> files;
    for (int i = 1; i <= 14; ++i)
      if (i != 10) files.push_back(folder / (side + (i < 10 ? "0" : "") + std::to_string(i) + ".jpg"));
    cv::Size size;
    const auto photos = find_all(files, {10, 7, 1.0}, size);
    ASSERT_EQ(photos.size(), 13U);
    const Calibration result = calibrate(photos, size, 0);
    RecordProperty(side + "_rms_px", std::to_string(result.rms_px));
    EXPECT_LE(result.rms_px, 0.185) << side;
    EXPECT_LE(result.worst_view_px, 0.25) << side;
  }
}

class SharedCamera : public testing::TestWithParam<const char*> {};

// With findChessboardCornersSB on the full photos and the same lens model: 0.068 px on k08 (measured).
TEST_P(SharedCamera, EveryLensPhotoIsFoundAndFitsALens) {
  const auto folder = std::filesystem::path(JIGTRUE_SOURCE_DIR) / "../shared/scenes/cameras" / GetParam();
  if (!std::filesystem::exists(folder)) GTEST_SKIP() << "no ../shared/scenes here";
  std::vector<std::filesystem::path> files;
  files.reserve(14);
  for (int i = 0; i < 14; ++i) files.push_back(folder / "lens" / ((i < 10 ? "0" : "") + std::to_string(i) + ".jpg"));
  cv::Size size;
  const auto photos = find_all(files, kBoard, size);
  ASSERT_EQ(photos.size(), 14U);
  EXPECT_EQ(find_all({folder / "pose.jpg"}, kBoard, size).size(), 1U);
  const Calibration result = calibrate(photos, size, cv::CALIB_RATIONAL_MODEL);
  RecordProperty("rms_px", std::to_string(result.rms_px));
  EXPECT_LE(result.rms_px, 0.07);
}
INSTANTIATE_TEST_SUITE_P(Photos, SharedCamera, testing::Values("k08", "w05"));

}  // namespace
}  // namespace jigtrue
