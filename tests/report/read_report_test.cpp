#include "jigtrue/report/read_report.hpp"

#include "jigtrue/report/report_json.hpp"
#include "support/input_error_text.hpp"
#include "support/sample_result.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

nlohmann::json sample() {
  return nlohmann::json::parse(report_json(test::sample_result(), {"2024-05-01T12:00:00Z", "0.1.0", std::nullopt}));
}

TEST(ReadReport, GivesBackWhatWasWritten) {
  const CheckResult was = test::sample_result();
  const CheckResult is = read_report(sample().dump(), "report.json");
  ASSERT_EQ(is.slots.size(), was.slots.size());
  EXPECT_EQ(is.fixture_name, was.fixture_name);
  for (std::size_t i = 0; i < was.slots.size(); ++i) {
    const SlotResult& a = was.slots[i];
    const SlotResult& b = is.slots[i];
    EXPECT_EQ(a.id, b.id);
    EXPECT_EQ(a.state, b.state);
    EXPECT_EQ(a.reasons, b.reasons);
    EXPECT_EQ(a.remedy, b.remedy);
    EXPECT_EQ(a.design_fits, b.design_fits);
    EXPECT_EQ(a.design_note, b.design_note);
    ASSERT_EQ(a.numbers.has_value(), b.numbers.has_value());
    if (!a.numbers) continue;
    // written to 1e-4
    EXPECT_NEAR((a.numbers->centre_mm - b.numbers->centre_mm).cwiseAbs().maxCoeff(), 0.0, 0.5001e-4);
    EXPECT_NEAR(a.numbers->axis_deg, b.numbers->axis_deg, 0.5001e-4);
    EXPECT_NEAR((a.nominal_centre_mm - b.nominal_centre_mm).norm(), 0.0, 1e-9);
    EXPECT_EQ(a.numbers->along_mm.has_value(), b.numbers->along_mm.has_value());
    EXPECT_EQ(a.numbers->diameter_mm.has_value(), b.numbers->diameter_mm.has_value());
  }
}

TEST(ReadReport, TakesReportsOfTheBareContract) {
  const CheckResult read = read_report(R"({ "schema": "jigtrue.report/1",
    "fixture": { "shift_mm": [0.6, -0.4], "turn_deg": 0.2, "from": "marks" },
    "slots": [ { "id": "1", "state": "found", "reasons": [],
      "centre_mm": [200.82, 150.49], "axis_deg": -0.18, "offset_mm": [0.82, 0.49], "across_mm": 0.49, "along_mm": 0.82,
      "rotation_deg": -0.18, "diameter_mm": 11.02,
      "uncertainty": { "coverage": 0.95, "across_mm": 0.05, "along_mm": 0.2, "rotation_deg": 0.03 },
      "usable_band_mm": 6.0, "design_fits": true },
      { "id": "2", "state": "empty", "reasons": ["no blank"], "centre_mm": null } ] })",
                                       "report.json");
  EXPECT_NEAR(read.slots[0].nominal_centre_mm.x(), 200.0, 1e-12);
  EXPECT_NEAR(read.slots[0].nominal_axis_deg, 0.0, 1e-12);
  ASSERT_TRUE(read.slots[0].room);
  EXPECT_NEAR(read.slots[0].room->left_mm, 3.05, 1e-12);
  EXPECT_FALSE(read.slots[1].numbers);
}

TEST(ReadReport, RefusesWhatIsNoReport) {
  const auto refused = [](const nlohmann::json& document) {
    return test::input_error_text([&] { (void)read_report(document.dump(), "report.json"); });
  };
  for (const auto& [path, value, says] : std::initializer_list<std::tuple<const char*, nlohmann::json, const char*>>{
           {"/schema", "jigtrue.fixture/1", "schema: \"jigtrue.fixture/1\" is not a report"},
           {"/slots", nlohmann::json::array(), "slots: holds 0 items, must hold at least 1"},
           {"/slots/0/id", "", "slots[0].id: missing"},
           {"/slots/0/id", 5, "slots[0].id: must be a text, is 5"},
           {"/slots/1/id", "1", "slots[1].id: is given twice"},
           {"/slots/0/state", "fine", "slots[0].state: must be found, empty"},
           {"/slots/0/centre_mm", nullptr, "carries no numbers"},
           {"/slots/0/centre_mm", {1, "2"}, "slots[0].centre_mm[1]: must be a number"},
           {"/slots/0/centre_mm", {1}, "slots[0].centre_mm: holds 1 items, must hold 2"},
           {"/slots/0/axis_deg", 1e300, "slots[0].axis_deg: 1e+300 is outside"},
           {"/slots/0/axis_deg", nullptr, "slots[0].axis_deg: missing"},
           {"/slots/0/uncertainty", nullptr, "slots[0].uncertainty: missing"},
           {"/slots/0/uncertainty/across_mm", -1, "slots[0].uncertainty.across_mm: must not be negative"},
           {"/slots/0/reasons", "x", "slots[0].reasons: must be a list"},
           {"/slots/0", 7, "slots[0]: must be an object"}}) {
    nlohmann::json document = sample();
    document[nlohmann::json::json_pointer(path)] = value;
    EXPECT_NE(refused(document).find(says), std::string::npos) << path << ": " << refused(document);
  }
  EXPECT_NE(test::input_error_text([] {
              (void)read_report("{", "r.json");
            }).find("the text ends too early; give the report.json"),
            std::string::npos);
  EXPECT_FALSE(test::input_error_text([] { (void)read_report(std::string(100'000, '['), "r.json"); }).empty());
}

}  // namespace
}  // namespace jigtrue
