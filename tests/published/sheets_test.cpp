// Published: sheets of paper. ISO 216: A0 holds one square metre, sides 1 : sqrt(2), each size half of the one before,
// in whole millimetres. ANSI/ASME Y14.1 size A ("letter"): 8.5 by 11 inches of 25.4 mm.
#include "jigtrue/target/target_sheet.hpp"

#include <cmath>
#include <cstdio>
#include <string>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

Vector2d upright(SheetSize size) { return mark_sheet(8.0, size, SheetTurn::portrait).drawing.size_mm; }

TEST(Sheets, AreThoseOfIso216) {
  EXPECT_EQ(upright(SheetSize::a4), Vector2d(210.0, 297.0));
  EXPECT_EQ(upright(SheetSize::a3), Vector2d(297.0, 420.0));
  for (const auto& [size, number] : {std::pair(SheetSize::a4, 4), std::pair(SheetSize::a3, 3)}) {
    const double area = 1e6 / std::pow(2.0, number);
    const double root = std::pow(2.0, 0.25);
    // cutting a sheet in two drops half a millimetre where a side is odd: within 0.5 mm of the ideal
    EXPECT_NEAR(upright(size).x(), std::sqrt(area) / root, 0.5);
    EXPECT_NEAR(upright(size).y(), std::sqrt(area) * root, 0.5);
  }
}

TEST(Sheets, LetterIsInInches) {
  EXPECT_DOUBLE_EQ(upright(SheetSize::letter).x(), 8.5 * 25.4);
  EXPECT_DOUBLE_EQ(upright(SheetSize::letter).y(), 11.0 * 25.4);
}

TEST(Sheets, TurnedTheyAreTheSameSheets) {
  for (const SheetSize size : {SheetSize::a4, SheetSize::a3, SheetSize::letter}) {
    const Vector2d turned = mark_sheet(8.0, size, SheetTurn::landscape).drawing.size_mm;
    EXPECT_EQ(turned, Vector2d(upright(size).y(), upright(size).x()));
  }
}

// ISO 32000-1, 7.7.3.3: a page's MediaBox counts 1/72 inch. SVG 1.1, 7.10: mm in width and height.
TEST(Sheets, FilesSayTheirSize) {
  const BoardSheet sheet = board_sheet({10, 7, 25.0}, SheetSize::a4, SheetTurn::landscape);
  const std::string pdf = target_pdf(sheet.drawing);
  const std::size_t at = pdf.find("/MediaBox");
  ASSERT_NE(at, std::string::npos);
  double box[4] = {};
  ASSERT_EQ(std::sscanf(pdf.c_str() + at, "/MediaBox [%lf %lf %lf %lf]", box, box + 1, box + 2, box + 3), 4)
      << pdf.substr(at, 60);
  EXPECT_NEAR(box[2] - box[0], 297.0 / 25.4 * 72.0, 5e-5);
  EXPECT_NEAR(box[3] - box[1], 210.0 / 25.4 * 72.0, 5e-5);
  const std::string svg = target_svg(sheet.drawing);
  EXPECT_NE(svg.find("width=\"297mm\" height=\"210mm\""), std::string::npos) << svg.substr(0, 400);
}

}  // namespace
}  // namespace jigtrue
