#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/inspection/apply_beam.hpp"
#include "jigtrue/inspection/ink_raster.hpp"
#include "jigtrue/report/beam_files.hpp"
#include "jigtrue/report/inspection_json.hpp"
#include "jigtrue/report/inspection_pages.hpp"
#include "jigtrue/report/kept_art.hpp"
#include "jigtrue/report/read_laid_load.hpp"
#include "jigtrue/report/report_json.hpp"
#include "support/html.hpp"
#include "support/input_error_text.hpp"
#include "support/sample_loads.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>
#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

constexpr const char* kDrawing =
    R"svg(<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="6mm" viewBox="0 0 20 6"><path fill-rule="evenodd"
d="M0,0H8V6H0ZM2,2V4H6V2Z"/><path d="M10,1C14,0 16,6 20,5L18,6Z"/><path d="M9,3H19" fill="none" stroke="#000" stroke-width="0.4"/></svg>)svg";

DesignArt drawing() { return common_art(read_artwork(kDrawing, "drawing.svg")); }

std::string report_of_load(const DesignArt& art, bool with_fixture = true) {
  const Fixture fixture = test::two_slots();
  ReportOptions options;
  options.art = art;
  if (with_fixture) options.fixture = fixture;
  CheckResult load = test::load(fixture, 0.2, 0.1, 0.3);
  for (SlotResult& slot : load.slots) slot.numbers->uncertainty.along_mm = 0.2;  // else none would be ready
  return report_json(load, options);
}

TEST(KeptArt, ComesBackWhereItWas) {
  const std::string report = report_of_load(drawing());
  const LaidLoad laid = read_laid_load({report, "report.json"}, std::nullopt);
  const InkRaster was = ink_raster(*drawing().common, 0.05);
  const InkRaster is = ink_raster(*laid.art.of("1"), 0.05);
  EXPECT_LT((was.ink.low - is.ink.low).norm(), 0.001);
  ASSERT_EQ(was.coverage.size(), is.coverage.size());
  // outlines are kept to 0.0001 mm
  EXPECT_LT(cv::norm(was.coverage, is.coverage, cv::NORM_L1) / cv::sum(was.coverage)[0], 0.01);
}

TEST(LaidLoad, TakesPlacesFromTheReportOrFromAPlacement) {
  const std::string report = report_of_load(drawing());
  const LaidLoad by_report = read_laid_load({report, "report.json"}, std::nullopt);
  ASSERT_EQ(by_report.placed.size(), 2U);
  EXPECT_NEAR(by_report.placed[0].centre_mm.x(), 200.1, 1e-9);
  EXPECT_NEAR(by_report.placed[0].centre_mm.y(), 150.2, 1e-9);
  EXPECT_EQ(by_report.fixture.slots.size(), 2U);
  const LaidLoad by_file = read_laid_load(
      {report, "report.json"},
      NamedText{R"({"schema": "jigtrue.placement/1", "slots": [{"id": "2", "centre_mm": [201, 191], "axis_deg": 89.5},
                    {"id": "1", "placed": false, "centre_mm": null, "axis_deg": null}]})",
                "placement.json"});
  ASSERT_EQ(by_file.placed.size(), 1U);
  EXPECT_EQ(by_file.placed[0].slot_id, "2");
  EXPECT_EQ(by_file.placed[0].axis_deg, 89.5);
}

TEST(LaidLoad, RefusesWhatDoesNotTell) {
  const auto refused = [](const std::string& report, const std::optional<NamedText>& placement) {
    return test::input_error_text([&] { (void)read_laid_load({report, "report.json"}, placement); });
  };
  EXPECT_NE(refused(report_of_load({}), std::nullopt).find("what was burned"), std::string::npos);
  EXPECT_NE(refused(report_of_load(drawing(), false), std::nullopt).find("does not hold its fixture"),
            std::string::npos);
  EXPECT_NE(refused(report_of_load(drawing()),
                    NamedText{R"({"slots": [{"id": "9", "centre_mm": [1, 2], "axis_deg": 0}]})", "placement.json"})
                .find("no slot 9"),
            std::string::npos);
}

InspectionResult invented() {
  InspectionResult result;
  result.blanks = test::load(test::two_slots(), 0.2, 0.1, 0.3);
  result.blanks.photo_file = "<b>&burned.jpg";
  result.art = drawing();
  InspectedSlot marked;
  marked.id = "1";
  marked.state = MarkState::marked;
  marked.mark_mm = Vector2d(200.2, 150.1);
  marked.mark_deg = 0.4;
  marked.from_blank_mm = MarkOffset{0.1, -0.2};
  marked.from_placed_mm = MarkOffset{0.11, -0.04};
  marked.rotation_deg = 0.05;
  marked.uncertainty = marked.placed_uncertainty = MarkUncertainty{0.1, 0.05, 0.05};
  marked.contrast = 0.41;
  marked.evenness = 0.9;
  marked.close_up.light = cv::Mat1f(80, 300, 0.4F);
  marked.close_up.seen = cv::Mat1b(80, 300, static_cast<unsigned char>(255));
  marked.close_up.pitch_mm = 0.1;
  marked.close_up.low_mm = {-15.0, -4.0};
  InspectedSlot bare;
  bare.id = "2";
  bare.state = MarkState::unmarked;
  bare.reasons = {"no mark of contrast 0.02 or more is on it"};
  result.slots = {marked, bare};
  BeamReading beam;
  beam.about_mm = {200.0, 170.0};
  beam.shift_mm = {0.12, -0.05};
  beam.turn_deg = 0.02;
  beam.shift_u_mm = {0.03, 0.03};
  beam.own_u_mm = {0.01, 0.02};
  beam.own_turn_u_deg = 0.01;
  beam.slots = 1;
  result.beam = beam;
  return result;
}

TEST(InspectionJson, HoldsTheContractsFields) {
  const auto json = nlohmann::json::parse(inspection_json(invented(), {}));
  EXPECT_EQ(json["schema"], "jigtrue.inspection/1");
  EXPECT_EQ(json["beam"]["shift_mm"], nlohmann::json({0.12, -0.05}));
  EXPECT_EQ(json["beam"]["uncertainty"]["coverage"], 0.95);
  const auto& slot = json["slots"][0];
  EXPECT_EQ(slot["state"], "marked");
  EXPECT_EQ(slot["from_blank_mm"]["along"], 0.1);
  EXPECT_EQ(slot["from_placed_mm"]["across"], -0.04);
  EXPECT_EQ(slot["uncertainty"]["across_mm"], 0.05);
  EXPECT_EQ(slot["contrast"], 0.41);
  EXPECT_EQ(slot["evenness"], 0.9);
  EXPECT_TRUE(json["slots"][1]["from_blank_mm"].is_null());
  EXPECT_EQ(json["slots"][1]["reasons"].size(), 1U);
}

TEST(InspectionJson, GivesTheBeamBackToTheNextLoad) {
  const std::string text = inspection_json(invented(), {});
  const BeamOffset offset = read_beam_offset({{text, "a"}});
  EXPECT_EQ(offset.shift_mm, Vector2d(0.12, -0.05));
  EXPECT_EQ(offset.shift_u_mm, Vector2d(0.01, 0.02));
  EXPECT_EQ(read_beam_offset({{text, "a"}, {text, "b"}}).loads, 2);
  // a report remembers what was taken off
  CheckResult load = test::load(test::two_slots(), 0.2, 0.1, 0.3);
  apply_beam(offset, "a", load);
  ReportOptions options;
  options.fixture = test::two_slots();
  options.art = drawing();
  const LaidLoad laid = read_laid_load({report_json(load, options), "report.json"}, std::nullopt);
  ASSERT_TRUE(laid.beam_applied);
  EXPECT_EQ(laid.beam_applied->shift_mm, offset.shift_mm);
}

TEST(InspectionPage, IsWholeAndEscapesNames) {
  const std::string page = inspection_html(invented(), {}, "jpeg", {});
  test::expect_balanced(page);
  EXPECT_EQ(page.find("<b>&burned"), std::string::npos);
  EXPECT_NE(page.find("data:image/jpeg;base64,"), std::string::npos);
  // what needs a person comes first
  EXPECT_LT(page.find("Slot 2"), page.find("Slot 1"));
  EXPECT_EQ(page.find("load by load"), std::string::npos);
}

TEST(InspectionPage, PlotsTheBeamOverTheLoads) {
  BurnRecord load{"2024-05-01T12:00:00Z", "burned.jpg", "a", "x", "two slots", BeamOffset{}, {}};
  load.beam->shift_mm = {0.3, -0.2};
  load.beam->shift_u_mm = {0.02, 0.02};
  load.beam->loads = 1;
  BurnRecord next = load;
  next.beam->shift_mm.x() = 0.32;
  const std::string page = inspection_html(invented(), {load, next}, "jpeg", {});
  test::expect_balanced(page);
  EXPECT_NE(page.find("The beam, load by load"), std::string::npos);
  EXPECT_NE(page.find("all together +0.310"), std::string::npos);
}

}  // namespace
}  // namespace jigtrue
