// Common practice, no source: what shops that engrave pens do. The figures are taken through the files that a user
// writes (fixture.json, job.json, an SVG drawing), not through single functions.
#include "jigtrue/layout/job_file.hpp"
#include "jigtrue/layout/run_time.hpp"
#include "jigtrue/layout/usable_band.hpp"

#include <cmath>
#include <string>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

Fixture five_pens(double diameter_mm) {
  std::string text = R"({"schema": "jigtrue.fixture/1",
    "blank": {"kind": "round", "diameter_mm": )" +
                     std::to_string(diameter_mm) + R"(, "length_mm": 138},
    "seat": {"vee_bottom_mm": 6, "vee_angle_deg": 90},
    "design": {"width_mm": 60, "height_mm": 4.5, "along_mm": 0},
    "slots": [)";
  for (int i = 0; i < 5; ++i) {
    text += (i == 0 ? "" : ",") + std::string(R"({"id": ")") + std::to_string(i + 1) + R"(", "centre_mm": [200, )" +
            std::to_string(150 + 24 * i) + R"(], "axis_deg": 0})";
  }
  return read_fixture(text + "]}", "five pens");
}

// All five lie where they should, measured without doubt.
CheckResult measured(const Fixture& fixture) {
  CheckResult result;
  for (const Slot& declared : fixture.slots) {
    SlotResult& slot = result.slots.emplace_back();
    slot.id = declared.id;
    slot.state = SlotState::found;
    slot.nominal_centre_mm = declared.centre_mm;
    slot.design = DesignBox{declared.design->width_mm, declared.design->height_mm};
    slot.numbers.emplace();
    slot.numbers->centre_mm = declared.centre_mm;
    slot.numbers->along_mm = 0.0;
    slot.numbers->diameter_mm = largest_diameter_mm(declared.blank.shape);
    slot.numbers->uncertainty.along_mm = 0.0;
  }
  judge_designs(fixture, result);
  return result;
}

// Lettering of 5 to 6 mm on a barrel of 10 to 12 mm: the least that is usual on the thinnest, the most on the thickest.
TEST(CommonPractice, BandOnAPenIsFiveToSixMillimetres) {
  for (const auto& [diameter, band] : {std::pair(10.0, 5.0), std::pair(11.0, 5.5), std::pair(12.0, 6.0)}) {
    for (const SlotResult& slot : measured(five_pens(diameter)).slots) {
      EXPECT_NEAR(*slot.usable_band_mm, band, 1e-9) << diameter << " mm";
    }
  }
}

// What that practice means on the flank: 25 to 37 degrees, where the surface takes between 0.91 and 0.80 of the crown.
TEST(CommonPractice, FlankTakesFourFifthsAndMoreOfTheCrown) {
  EXPECT_NEAR(deg_from_rad(std::asin(5.0 / 12.0)), 25.0, 0.5);
  EXPECT_NEAR(deg_from_rad(std::asin(6.0 / 10.0)), 37.0, 0.5);
  EXPECT_NEAR(relative_fluence(std::asin(5.0 / 12.0), 1.5), 0.91, 0.005);
  EXPECT_NEAR(relative_fluence(std::asin(6.0 / 10.0), 1.5), 0.80, 0.01);
}

Placement placed(const std::string& job_json) {
  const Artwork art = read_artwork(
      R"(<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="4.5mm" viewBox="0 0 60 4.5">
        <rect width="60" height="4.5"/></svg>)",
      "lettering.svg");
  const Job job = read_job(job_json, "job.json");
  DesignArt design;
  design.common = std::make_shared<const std::vector<Pass>>(centred(passes_in_register(job.passes, {art})));
  return place_designs(measured(five_pens(11.0)), std::nullopt, design);
}

std::string job(const std::string& lines_per_cm) {
  return R"({"schema": "jigtrue.job/1", "passes": [{"name": "lettering", "artwork": "lettering.svg", "burn": "scan",
    "speed_mm_s": 150, "overscan_mm": 3, "lines_per_cm": )" +
         lines_per_cm + "}]}";
}

// 120 lines to the centimetre lie 1 / 12 mm apart.
TEST(CommonPractice, LinesLieATwelfthOfAMillimetreApart) {
  const Placement all = placed(job("120"));
  ASSERT_EQ(all.placed.size(), 5u);
  const RunTime run = estimate_run_time(all);
  ASSERT_EQ(run.passes.size(), 1u);
  const double lines_a_pen = static_cast<double>(run.passes[0].lines) / 5.0;
  // 4.5 mm hold 54 lines; where the first one falls decides on one more or less
  EXPECT_NEAR(lines_a_pen, 54.0, 1.0);
  EXPECT_NEAR(4.5 / lines_a_pen, 0.0833, 0.0833 / 54.0);
}

// Five pens with 60 x 4.5 mm of lettering at 150 mm/s are done in about two minutes.
TEST(CommonPractice, FivePensTakeAboutTwoMinutes) {
  const RunTime run = estimate_run_time(placed(job("120")));
  // each line runs over 60 mm and twice 3 mm of overscan; one line more or less a pen is 2.2 s
  EXPECT_NEAR(run.seconds, 5 * 54 * 66.0 / 150.0, 5 * 66.0 / 150.0 + 1e-9);
  EXPECT_NEAR(run.seconds, 120.0, 5.0);
}

}  // namespace
}  // namespace jigtrue
