// The raster of a drawing against plain inequalities and a circle's area.
#include "jigtrue/inspection/ink_raster.hpp"

#include <cmath>
#include <string>

#include "inspection/burned_load.hpp"
#include <gtest/gtest.h>
#include <opencv2/core.hpp>

namespace jigtrue::test {
namespace {

InkRaster raster_of(const std::string& svg, double pitch_mm) {
  return ink_raster(*common_art(read_artwork(svg, "invented.svg")).common, pitch_mm);
}

double area_mm2(const InkRaster& raster) { return cv::sum(raster.coverage)[0] * raster.pitch_mm * raster.pitch_mm; }

// A fill that takes every pixel it touches would add half of one all round: 0.6 mm2 at the coarser pitch.
TEST(InkRaster, InkIsAsLargeAsDrawnAtAnyPitch) {
  double exact = 0.0;
  constexpr double kFine = 0.01;
  for (double v = -2.5 + kFine / 2.0; v < 2.5; v += kFine)
    for (double u = -16.0 + kFine / 2.0; u < 16.0; u += kFine) exact += has_ink({u, v}) ? kFine * kFine : 0.0;
  for (const double pitch_mm : {0.02, 0.05, 0.1})
    EXPECT_NEAR(area_mm2(raster_of(burned_drawing(), pitch_mm)), exact, 0.02) << pitch_mm;
}

TEST(InkRaster, StrokesAreAsWideAsTheirPen) {
  // a ring of mean radius 2 and width 0.5, and a line of 6 by 0.4 with round ends
  const std::string ring = R"svg(<svg xmlns="http://www.w3.org/2000/svg" width="8mm" height="8mm" viewBox="-4 -4 8 8">
<circle r="2" fill="none" stroke="#000" stroke-width="0.5"/></svg>)svg";
  EXPECT_NEAR(area_mm2(raster_of(ring, 0.05)), kPi * (2.25 * 2.25 - 1.75 * 1.75), 0.02);
  const std::string line = R"svg(<svg xmlns="http://www.w3.org/2000/svg" width="8mm" height="2mm" viewBox="-4 -1 8 2">
<path d="M-3,0H3" fill="none" stroke="#000" stroke-width="0.4"/></svg>)svg";
  EXPECT_NEAR(area_mm2(raster_of(line, 0.05)), 6.0 * 0.4 + kPi * 0.2 * 0.2, 0.02);
}

TEST(InkRaster, OverlappingShapesCountOnceAndHolesStayBare) {
  const std::string svg = R"svg(<svg xmlns="http://www.w3.org/2000/svg" width="8mm" height="4mm" viewBox="-4 -2 8 4">
<rect x="-3" y="-1" width="4" height="2"/><rect x="-1" y="-1" width="4" height="2"/>
<path d="M-3,1.2H3V1.8H-3ZM-1,1.4V1.6H1V1.4Z"/></svg>)svg";
  EXPECT_NEAR(area_mm2(raster_of(svg, 0.04)), 6.0 * 2.0 + 6.0 * 0.6 - 2.0 * 0.2, 0.02);
}

}  // namespace
}  // namespace jigtrue::test
