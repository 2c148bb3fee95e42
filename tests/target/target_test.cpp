#include "jigtrue/image/board.hpp"
#include "jigtrue/image/mark.hpp"
#include "jigtrue/target/target_burn.hpp"
#include "jigtrue/target/target_sheet.hpp"
#include "support/input_error_text.hpp"
#include "support/patterns.hpp"
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <sstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

const BoardSpec kUsual{10, 7, 25.0};

// The boxes that a program which reads the SVG sees, in the sheet's frame.
std::vector<FilledBox> svg_boxes(const std::string& svg, double sheet_height_mm) {
  const std::string rect =
      R"re(<rect x="([-0-9.]+)" y="([-0-9.]+)" width="([0-9.]+)" height="([0-9.]+)"( fill="rgb\(([0-9.]+)%)?)re";
  std::vector<FilledBox> boxes;
  for (const test::Match& match : test::all_matches(svg, rect)) {
    const double x = std::stod(match[1]);
    const double top = sheet_height_mm - std::stod(match[2]);
    const double width = std::stod(match[3]);
    const double height = std::stod(match[4]);
    const double grey = match[6].empty() ? 0.0 : std::stod(match[6]) / 100.0;
    boxes.push_back({{x, top - height}, {x + width, top}, grey});
  }
  return boxes;
}

// The sheet seen squarely at px_per_mm: each pixel is exactly the share of it that is printed, then a lens's blur.
cv::Mat1b rasterised(const std::vector<FilledBox>& boxes, const Vector2d& sheet_mm, double px_per_mm) {
  cv::Mat1d white(static_cast<int>(std::ceil(sheet_mm.y() * px_per_mm)),
                  static_cast<int>(std::ceil(sheet_mm.x() * px_per_mm)), 1.0);
  for (const FilledBox& box : boxes) {
    const double x0 = box.low_mm.x() * px_per_mm;
    const double x1 = box.high_mm.x() * px_per_mm;
    const double y0 = (sheet_mm.y() - box.high_mm.y()) * px_per_mm;
    const double y1 = (sheet_mm.y() - box.low_mm.y()) * px_per_mm;
    for (int y = static_cast<int>(y0); y < y1 && y < white.rows; ++y) {
      const double high = std::min(y1, y + 1.0) - std::max(y0, static_cast<double>(y));
      for (int x = static_cast<int>(x0); x < x1 && x < white.cols; ++x) {
        const double wide = std::min(x1, x + 1.0) - std::max(x0, static_cast<double>(x));
        white(y, x) -= (1.0 - box.grey) * high * wide;
      }
    }
  }
  cv::GaussianBlur(white, white, cv::Size(0, 0), 0.8);
  cv::Mat1b photo;
  white.convertTo(photo, CV_8U, 170.0, 35.0);
  return photo;
}

Vector2d px_of(const Vector2d& mm, const Vector2d& sheet_mm, double px_per_mm) {
  return {mm.x() * px_per_mm - 0.5, (sheet_mm.y() - mm.y()) * px_per_mm - 0.5};
}

// Corners in a picture drawn without noise, blurred by 0.8 px: what the finder promises for such (root mean square of
// the distance, its own tests), eight-bit grey levels included. Single corners among some fifty stray to twice and a
// half.
constexpr double kCorner_px = 0.02;

void expect_board_at(const cv::Mat1b& photo, const BoardSpec& board, const BoardSheet& sheet, double px_per_mm,
                     double rms_px) {
  const auto corners = find_board(photo, board);
  ASSERT_TRUE(corners) << corners.reason();
  double sum = 0.0;
  for (int row = 0; row < board.inner_rows(); ++row) {
    for (int column = 0; column < board.inner_columns(); ++column) {
      const Vector2d mm = sheet.origin_mm + board.corner_mm(column, row).head<2>();
      const int number = row * board.inner_columns() + column;
      const Vector2d seen = corners->px[static_cast<std::size_t>(number)];
      const double away = (seen - px_of(mm, sheet.drawing.size_mm, px_per_mm)).norm();
      ASSERT_LT(away, 2.5 * rms_px) << column << " " << row;
      sum += away * away;
    }
  }
  EXPECT_LT(std::sqrt(sum / board.corner_count()), rms_px);
}

Vector2d text_size_mm(const SmallPrint& print) {
  const double width = text_width_mm(print.text, print.size_mm);
  return print.upwards ? Vector2d(0.72 * print.size_mm, width) : Vector2d(width, 0.72 * print.size_mm);
}
FilledBox text_box(const SmallPrint& print) {
  const double back = print.anchor == TextAnchor::start ? 0.0 : (print.anchor == TextAnchor::middle ? 0.5 : 1.0);
  const Vector2d size = text_size_mm(print);
  const Vector2d low =
      print.at_mm - (print.upwards ? Vector2d(size.x(), back * size.y()) : Vector2d(back * size.x(), 0.0));
  return {low, low + size, 0.0};
}
bool overlap(const FilledBox& a, const FilledBox& b) {
  return (a.low_mm.array() < b.high_mm.array()).all() && (b.low_mm.array() < a.high_mm.array()).all();
}

struct SheetCase {
  BoardSpec board;
  SheetSize size;
  SheetTurn turn;
};
const std::vector<SheetCase> kSheets = {{kUsual, SheetSize::a4, SheetTurn::best},
                                        {kUsual, SheetSize::letter, SheetTurn::landscape},
                                        {{10, 7, 38.0}, SheetSize::a3, SheetTurn::best},
                                        {{9, 6, 18.0}, SheetSize::a4, SheetTurn::portrait},
                                        {{8, 5, 23.7}, SheetSize::letter, SheetTurn::best}};

TEST(TargetBoard, IsFoundInItsOwnFrame) {
  for (const SheetCase& c : kSheets) {
    const BoardSheet sheet = board_sheet(c.board, c.size, c.turn);
    const double px_per_mm = 4.3;
    const auto boxes = svg_boxes(target_svg(sheet.drawing), sheet.drawing.size_mm.y());
    const cv::Mat1b photo = rasterised(boxes, sheet.drawing.size_mm, px_per_mm);
    SCOPED_TRACE(sheet.drawing.title);
    expect_board_at(photo, c.board, sheet, px_per_mm, kCorner_px);
  }
}

// Seen from the origin's corner the long side runs right and the short side up, however the sheet is held.
TEST(TargetBoard, ReadsOneWayWhenTheSheetIsTurned) {
  const BoardSheet sheet = board_sheet(kUsual, SheetSize::a4);
  const double scale = 4.0;
  cv::Mat1b photo =
      rasterised(svg_boxes(target_svg(sheet.drawing), sheet.drawing.size_mm.y()), sheet.drawing.size_mm, scale);
  Vector2d origin_corner = px_of(sheet.origin_mm + kUsual.corner_mm(0, 0).head<2>(), sheet.drawing.size_mm, scale);
  for (int quarter = 0; quarter < 4; ++quarter) {
    const auto corners = find_board(photo, kUsual);
    ASSERT_TRUE(corners) << corners.reason();
    EXPECT_LT((corners->px.front() - origin_corner).norm(), 2.5 * kCorner_px) << quarter;
    origin_corner = {photo.rows - 1 - origin_corner.y(), origin_corner.x()};
    cv::rotate(photo.clone(), photo, cv::ROTATE_90_CLOCKWISE);
  }
}

TEST(TargetBoard, OriginCornerIsBlackAndItsNeighboursAcrossAreWhiteAndBlack) {
  const BoardSheet sheet = board_sheet(kUsual, SheetSize::a4);
  const auto black_at = [&](double column, double row) {
    const Vector2d at = sheet.origin_mm + kUsual.square_mm * Vector2d(column + 0.5, row + 0.5);
    return std::any_of(sheet.drawing.boxes.begin(), sheet.drawing.boxes.end(), [&](const FilledBox& box) {
      return (box.low_mm.array() < at.array()).all() && (at.array() < box.high_mm.array()).all();
    });
  };
  EXPECT_TRUE(black_at(0, 0));
  EXPECT_FALSE(black_at(9, 0));
  EXPECT_TRUE(black_at(0, 6));
  EXPECT_FALSE(black_at(9, 6));
}

TEST(TargetBoard, SheetsHaveTheirSizes) {
  // ISO 216; Letter 8.5 x 11 inches
  EXPECT_EQ(board_sheet(kUsual, SheetSize::a4).drawing.size_mm, Vector2d(297.0, 210.0));
  EXPECT_EQ(board_sheet(kUsual, SheetSize::a3).drawing.size_mm, Vector2d(420.0, 297.0));
  EXPECT_EQ(board_sheet(kUsual, SheetSize::letter).drawing.size_mm, Vector2d(279.4, 215.9));
  EXPECT_EQ(mark_sheet(8.0, SheetSize::a4, SheetTurn::portrait).drawing.size_mm, Vector2d(210.0, 297.0));
  const std::string svg = target_svg(board_sheet(kUsual, SheetSize::letter).drawing);
  EXPECT_NE(svg.find("width=\"279.4mm\" height=\"215.9mm\" viewBox=\"0 0 279.4 215.9\""), std::string::npos);
}

// What a printer leaves blank stays blank, letters keep off each other and off the pattern, and a white zone is about
// it.
TEST(TargetBoard, EverythingHasItsRoom) {
  for (const SheetCase& c : kSheets) {
    const BoardSheet sheet = board_sheet(c.board, c.size, c.turn);
    SCOPED_TRACE(sheet.drawing.title);
    std::vector<FilledBox> texts;
    for (const SmallPrint& print : sheet.drawing.print) texts.push_back(text_box(print));
    std::vector<FilledBox> all = sheet.drawing.boxes;
    all.insert(all.end(), texts.begin(), texts.end());
    for (const FilledBox& box : all) {
      EXPECT_GE(box.low_mm.minCoeff(), 6.5 - 1e-9);
      EXPECT_GE((sheet.drawing.size_mm - box.high_mm).minCoeff(), 6.5 - 1e-9);
    }
    const Vector2d far = sheet.origin_mm + c.board.square_mm * Vector2d(c.board.columns, c.board.rows);
    const FilledBox pattern{sheet.origin_mm, far, 0.0};
    const FilledBox zone{sheet.origin_mm - Vector2d::Constant(5.0 - 1e-9), far + Vector2d::Constant(5.0), 0.0};
    int in_zone = 0;
    for (const FilledBox& box : sheet.drawing.boxes)
      if (overlap(box, zone) && !overlap(box, pattern)) ++in_zone;
    EXPECT_EQ(in_zone, 2);  // the thin angle that marks the origin
    for (std::size_t i = 0; i < texts.size(); ++i) {
      EXPECT_FALSE(overlap(texts[i], zone)) << sheet.drawing.print[i].text;
      for (std::size_t j = 0; j < i; ++j)
        EXPECT_FALSE(overlap(texts[i], texts[j]))
            << sheet.drawing.print[i].text << " | " << sheet.drawing.print[j].text;
      for (const FilledBox& box : sheet.drawing.boxes)
        EXPECT_FALSE(overlap(texts[i], box)) << sheet.drawing.print[i].text;
    }
  }
}

TEST(TargetBoard, RulersAreAsLongAsTheySay) {
  const BoardSheet sheet = board_sheet(kUsual, SheetSize::a4);
  std::vector<double> wide;
  std::vector<double> high;
  for (const FilledBox& box : sheet.drawing.boxes) {
    const Vector2d size = box.high_mm - box.low_mm;
    if (size.x() > 100.0 && size.y() < 1.0) {
      wide.push_back(size.x());
      EXPECT_DOUBLE_EQ(box.low_mm.x(), sheet.origin_mm.x());
    }
    if (size.y() > 100.0 && size.x() < 1.0) {
      high.push_back(size.y());
      EXPECT_DOUBLE_EQ(box.low_mm.y(), sheet.origin_mm.y());
    }
  }
  ASSERT_EQ(wide.size(), 1u);
  ASSERT_EQ(high.size(), 1u);
  EXPECT_NEAR(wide[0], 250.0, 1e-9);
  EXPECT_NEAR(high[0], 170.0, 1e-9);
  const std::string svg = target_svg(sheet.drawing);
  EXPECT_NE(svg.find("this line must measure 250.0 mm"), std::string::npos);
  EXPECT_NE(svg.find("this line must measure 170.0 mm"), std::string::npos);
  EXPECT_NE(svg.find(">origin<"), std::string::npos);
}

TEST(TargetBoard, RefusalNamesTheLargestSquareThatFits) {
  const BoardSpec large{10, 7, 30.0};
  const std::string text =
      test::input_error_text([&] { (void)board_sheet(large, SheetSize::a4, SheetTurn::landscape); });
  const test::Match match =
      test::first_match(text, "10x7x30.*does not fit a4.*largest square that does is ([0-9.]+) mm");
  ASSERT_FALSE(match.empty()) << text;
  BoardSpec fitting = large;
  fitting.square_mm = std::stod(match[1]);
  EXPECT_NO_THROW((void)board_sheet(fitting, SheetSize::a4, SheetTurn::landscape));
  fitting.square_mm += 0.1;
  EXPECT_THROW((void)board_sheet(fitting, SheetSize::a4, SheetTurn::landscape), InputError);
  EXPECT_NO_THROW((void)board_sheet(large, SheetSize::a3));
}

TEST(TargetMarks, EachIsFoundWhereTheSheetHasIt) {
  for (const double field : {8.0, 5.0}) {
    const MarkSheet sheet = mark_sheet(field, SheetSize::a4);
    ASSERT_GE(sheet.centres_mm.size(), 24u);
    const double scale = 4.3;
    const cv::Mat1b photo =
        rasterised(svg_boxes(target_svg(sheet.drawing), sheet.drawing.size_mm.y()), sheet.drawing.size_mm, scale);
    for (const Vector2d& centre : sheet.centres_mm) {
      MarkPrediction prediction;
      const Vector2d truth = px_of(centre, sheet.drawing.size_mm, scale);
      prediction.centre_px = truth + Vector2d(6.0, -4.0);
      prediction.px_from_mm << scale, 0.0, 0.0, -scale;
      prediction.field_mm = field;
      prediction.search_px = 15.0;
      prediction.any_turn = false;
      const auto mark = find_mark(photo, prediction);
      ASSERT_TRUE(mark) << mark.reason();
      EXPECT_LT((mark->px - truth).norm(), 2.5 * kCorner_px);
      EXPECT_NEAR(mark->turn_deg, 0.0, 1.0);
    }
  }
}

TEST(TargetMarks, FieldsOfNoUseAreRefused) {
  for (const double field : {0.0, -8.0, 1.0, 60.0, std::nan("")})
    EXPECT_THROW((void)mark_sheet(field, SheetSize::a4), InputError) << field;
}

// --- marks to burn ---

BurnMarks burn_marks() {
  BurnMarks marks;
  marks.machine.bed_mm = {400.0, 300.0};
  marks.centres_mm = {{30.0, 40.0}, {370.0, 40.5}, {200.25, 260.0}, {60.0, 200.0}};
  marks.height_mm = 3.2;
  return marks;
}

TEST(TargetBurn, BlackFieldsLieAtTheMachinesOwnCoordinates) {
  for (const OriginCorner corner : {OriginCorner::front_left, OriginCorner::back_right}) {
    BurnMarks marks = burn_marks();
    marks.machine.origin_corner = corner;
    if (corner == OriginCorner::back_right)
      for (Vector2d& centre : marks.centres_mm) centre -= Vector2d(400.0, 300.0);
    const std::string svg = target_svg(burn_drawing(marks));
    EXPECT_NE(svg.find("width=\"400mm\" height=\"300mm\" viewBox=\"0 0 400 300\""), std::string::npos);
    EXPECT_EQ(svg.find("<text"), std::string::npos);
    EXPECT_EQ(svg.find("rgb("), std::string::npos);
    const auto boxes = svg_boxes(svg, 300.0);
    ASSERT_EQ(boxes.size(), 2 * marks.centres_mm.size());
    for (std::size_t i = 0; i < marks.centres_mm.size(); ++i) {
      const Vector2d centre = burn_marks().centres_mm[i];  // on the page, from its lower left
      EXPECT_LT((boxes[2 * i].high_mm - centre).norm(), 1e-9);
      EXPECT_LT((boxes[2 * i].low_mm - centre + Vector2d(8.0, 8.0)).norm(), 1e-9);
      EXPECT_LT((boxes[2 * i + 1].low_mm - centre).norm(), 1e-9);
      EXPECT_LT((boxes[2 * i + 1].high_mm - centre - Vector2d(8.0, 8.0)).norm(), 1e-9);
    }
  }
}

TEST(TargetBurn, MarksFileSaysWhatIsBurned) {
  const auto file = nlohmann::json::parse(marks_json(burn_marks()));
  EXPECT_EQ(file["schema"], "jigtrue.marks/1");
  ASSERT_EQ(file["marks_mm"].size(), 4u);
  EXPECT_EQ(file["marks_mm"][2], (nlohmann::json{200.25, 260.0, 3.2}));
}

TEST(TargetBurn, GridFillsItsArea) {
  const auto grid = mark_grid({380.0, 20.0}, {20.0, 280.0}, 4, 3, 8.0);
  ASSERT_EQ(grid.size(), 12u);
  EXPECT_LT((grid.front() - Vector2d(28.0, 28.0)).norm(), 1e-12);
  EXPECT_LT((grid.back() - Vector2d(372.0, 272.0)).norm(), 1e-12);
  EXPECT_LT((mark_grid({0.0, 0.0}, {40.0, 60.0}, 1, 1, 8.0).front() - Vector2d(20.0, 30.0)).norm(), 1e-12);
  EXPECT_THROW((void)mark_grid({0.0, 0.0}, {100.0, 100.0}, 4, 3, 8.0), InputError);
  EXPECT_THROW((void)mark_grid({0.0, 0.0}, {10.0, 100.0}, 1, 1, 8.0), InputError);
}

TEST(TargetBurn, MarksOffTheBedOrOverOneAnotherAreRefused) {
  BurnMarks off = burn_marks();
  off.centres_mm[1] = {395.0, 40.0};
  EXPECT_NE(test::input_error_text([&] { (void)burn_drawing(off); }).find("beyond the bed"), std::string::npos);
  BurnMarks near = burn_marks();
  near.centres_mm[3] = near.centres_mm[0] + Vector2d(20.0, 0.0);
  EXPECT_NE(test::input_error_text([&] { (void)burn_drawing(near); }).find("too near"), std::string::npos);
}

// --- PDF ---

TEST(TargetPdf, HoldsTheSameBoxesAsTheDrawing) {
  const BoardSheet sheet = board_sheet(kUsual, SheetSize::letter);
  const std::string pdf = target_pdf(sheet.drawing);
  EXPECT_EQ(pdf.rfind("%PDF-1.", 0), 0u);
  EXPECT_NE(pdf.find("/MediaBox [0 0 792 612]"), std::string::npos);  // 11 x 8.5 inches of 72 points
  const auto boxes = test::all_matches(pdf, R"re((^|\n)([-0-9.]+) ([-0-9.]+) ([0-9.]+) ([0-9.]+) re f)re");
  ASSERT_EQ(boxes.size(), sheet.drawing.boxes.size());
  for (std::size_t n = 0; n < boxes.size(); ++n) {
    const FilledBox& drawn = sheet.drawing.boxes[n];
    const double mm = 25.4 / 72.0;
    const Vector2d low = mm * Vector2d(std::stod(boxes[n][2]), std::stod(boxes[n][3]));
    const Vector2d size = mm * Vector2d(std::stod(boxes[n][4]), std::stod(boxes[n][5]));
    EXPECT_LT((low - drawn.low_mm).norm(), 1e-4);
    EXPECT_LT((low + size - drawn.high_mm).norm(), 1e-4);
  }
}

// ISO 32000-1, 7.5.4: each entry of the table is where that object begins, twenty bytes an entry.
TEST(TargetPdf, ItsTableOfObjectsIsRight) {
  const std::string pdf = target_pdf(mark_sheet(8.0, SheetSize::a4).drawing);
  const std::size_t start = std::stoul(pdf.substr(pdf.rfind("startxref\n") + 10));
  ASSERT_EQ(pdf.substr(start, 5), "xref\n");
  std::istringstream head(pdf.substr(start + 5));
  int first = -1;
  int count = 0;
  head >> first >> count;
  ASSERT_EQ(first, 0);
  ASSERT_EQ(count, 7);
  const std::size_t entries = pdf.find('\n', start + 5) + 1;
  for (int i = 1; i < count; ++i) {
    const std::string entry = pdf.substr(entries + 20 * static_cast<std::size_t>(i), 20);
    EXPECT_EQ(entry.substr(10), " 00000 n \n");
    const std::string object = std::to_string(i) + " 0 obj\n";
    EXPECT_EQ(pdf.substr(std::stoul(entry), object.size()), object);
  }
  const std::size_t stream = pdf.find("stream\n") + 7;
  const std::size_t length = std::stoul(pdf.substr(pdf.find("/Length ") + 8));
  EXPECT_EQ(pdf.substr(stream + length, 9), "endstream");
}

cv::Mat1b read_grey(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::string kind;
  int width = 0;
  int height = 0;
  int full = 0;
  in >> kind >> width >> height >> full;
  in.get();
  if (!in || kind != "P5" || full != 255) return {};
  cv::Mat1b picture(height, width);
  in.read(reinterpret_cast<char*>(picture.data), static_cast<std::streamsize>(picture.total()));
  return in ? picture : cv::Mat1b();
}

// An independent program draws the page: squares where they should be, and the board reads.
TEST(TargetPdf, RendersInTrueSize) {
  if (std::system("pdftoppm -v >/dev/null 2>&1") != 0) GTEST_SKIP() << "pdftoppm (poppler-utils) is not installed";
  const test::TemporaryFolder folder;
  for (const SheetCase& c : kSheets) {
    const BoardSheet sheet = board_sheet(c.board, c.size, c.turn);
    SCOPED_TRACE(sheet.drawing.title);
    std::ofstream(folder / "board.pdf", std::ios::binary) << target_pdf(sheet.drawing);
    // 254 pixels an inch: 10 px/mm
    const std::string page = (folder / "page").string();
    std::string command = "pdftoppm -r 254 -gray -singlefile '" + (folder / "board.pdf").string();
    command.append("' '").append(page).append("' 2>'").append(page).append(".log'");
    ASSERT_EQ(std::system(command.c_str()), 0);
    std::ifstream log(page + ".log");
    EXPECT_EQ(log.peek(), std::ifstream::traits_type::eof()) << "the renderer complains about the file";
    const cv::Mat1b picture = read_grey(page + ".pgm");
    ASSERT_FALSE(picture.empty());
    EXPECT_NEAR(picture.cols, 10.0 * sheet.drawing.size_mm.x(), 1.0);
    EXPECT_NEAR(picture.rows, 10.0 * sheet.drawing.size_mm.y(), 1.0);
    // The renderer blackens every pixel that a box touches, so edges lie up to a pixel (0.1 mm) off: each square has
    // its colour to within 0.2 mm of all its corners.
    int wrong = 0;
    for (int row = 0; row < c.board.rows; ++row) {
      for (int column = 0; column < c.board.columns; ++column) {
        const bool black = (row + column) % 2 == 0;
        for (const double dx : {0.2, c.board.square_mm - 0.2}) {
          for (const double dy : {0.2, c.board.square_mm - 0.2}) {
            const Vector2d mm =
                sheet.origin_mm + Vector2d(column * c.board.square_mm + dx, row * c.board.square_mm + dy);
            const Vector2d px = px_of(mm, sheet.drawing.size_mm, 10.0);
            const int grey = picture(static_cast<int>(std::lround(px.y())), static_cast<int>(std::lround(px.x())));
            if ((grey < 128) != black) ++wrong;
          }
        }
      }
    }
    EXPECT_EQ(wrong, 0);
    // The board reads, three renderer's pixels to one of the photo: corners up to half a renderer's pixel off.
    cv::Mat1b photo;
    cv::resize(picture, photo, cv::Size(), 1.0 / 3.0, 1.0 / 3.0, cv::INTER_AREA);
    cv::GaussianBlur(photo, photo, cv::Size(0, 0), 0.8);
    photo.convertTo(photo, CV_8U, 170.0 / 255.0, 35.0);
    expect_board_at(photo, c.board, sheet, 10.0 / 3.0, 0.5 / 3.0);
  }
}

TEST(TargetDrawing, WhatIsNotFiniteOrNotAsciiIsAFault) {
  TargetDrawing drawing{"x", "", {100.0, 100.0}, {{{0.0, 0.0}, {std::nan(""), 1.0}, 0.0}}, {}};
  EXPECT_THROW((void)target_svg(drawing), std::logic_error);
  EXPECT_THROW((void)target_pdf(drawing), std::logic_error);
  EXPECT_THROW((void)text_width_mm("\xC3\xA9", 2.0), std::logic_error);
}

TEST(TargetDrawing, TextIsEscaped) {
  TargetDrawing drawing{"a (b) \\ <c>", "", {100.0, 100.0}, {}, {{{10.0, 10.0}, 2.0, "<&(\\)>"}}};
  EXPECT_NE(target_pdf(drawing).find("(<&\\(\\\\\\)>) Tj"), std::string::npos);
  EXPECT_NE(target_svg(drawing).find("&lt;&amp;(\\)&gt;</text>"), std::string::npos);
}

}  // namespace
}  // namespace jigtrue
