#include "jigtrue/report/report_json.hpp"

#include "support/sample_result.hpp"

#include <limits>
#include <stdexcept>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using nlohmann::json;

const ReportOptions kOptions{"2024-05-01T12:00:00Z", "0.1.0", std::nullopt};

json report(const CheckResult& result) { return json::parse(report_json(result, kOptions)); }

// The contract's fields, each with whether it may be null.
struct Field {
  const char* name;
  bool nullable;
  bool (json::*is)() const noexcept;
};
constexpr Field kSlotFields[] = {
    {"id", false, &json::is_string},          {"state", false, &json::is_string},
    {"reasons", false, &json::is_array},      {"centre_mm", true, &json::is_array},
    {"axis_deg", true, &json::is_number},     {"offset_mm", true, &json::is_array},
    {"across_mm", true, &json::is_number},    {"along_mm", true, &json::is_number},
    {"rotation_deg", true, &json::is_number}, {"diameter_mm", true, &json::is_number},
    {"uncertainty", true, &json::is_object},  {"usable_band_mm", true, &json::is_number},
    {"design_fits", true, &json::is_boolean}, {"ready", false, &json::is_boolean},
};

TEST(ReportJson, HoldsEveryContractFieldOfEverySlotInOrder) {
  const CheckResult result = test::sample_result();
  const json root = report(result);
  EXPECT_EQ(root.at("schema"), "jigtrue.report/1");
  EXPECT_EQ(root.at("fixture").at("shift_mm"), json::array({0.6, -0.4}));
  EXPECT_EQ(root.at("fixture").at("turn_deg"), 0.2);
  EXPECT_EQ(root.at("fixture").at("from"), "slots");
  ASSERT_EQ(root.at("slots").size(), result.slots.size());
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    const json& slot = root.at("slots")[i];
    EXPECT_EQ(slot.at("id"), result.slots[i].id);
    EXPECT_EQ(slot.at("state"), to_string(result.slots[i].state));
    for (const Field& field : kSlotFields) {
      ASSERT_TRUE(slot.contains(field.name)) << field.name;
      const json& value = slot.at(field.name);
      EXPECT_TRUE((value.*field.is)() || (field.nullable && value.is_null())) << field.name << " = " << value;
    }
  }
}

TEST(ReportJson, WritesTheNumbersOfAFoundSlot) {
  const json slot = report(test::sample_result()).at("slots")[0];
  EXPECT_EQ(slot.at("centre_mm"), json::array({200.8212, 150.4948}));
  EXPECT_EQ(slot.at("offset_mm"), json::array({0.8212, 0.4948}));
  EXPECT_EQ(slot.at("along_mm"), 0.8212);
  EXPECT_EQ(slot.at("across_mm"), 0.4948);
  EXPECT_EQ(slot.at("axis_deg"), -0.18);
  EXPECT_EQ(slot.at("rotation_deg"), -0.18);
  EXPECT_EQ(slot.at("diameter_mm"), 11.02);
  const json& u = slot.at("uncertainty");
  EXPECT_EQ(u.at("coverage"), 0.95);
  EXPECT_EQ(u.at("across_mm"), 0.05);
  EXPECT_EQ(u.at("along_mm"), 0.2);
  EXPECT_EQ(u.at("rotation_deg"), 0.03);
  EXPECT_EQ(slot.at("usable_band_mm"), 6.0);
  EXPECT_EQ(slot.at("design_fits"), true);
  EXPECT_EQ(slot.at("budget").size(), 6u);
}

TEST(ReportJson, WritesNullForWhatWasNotMeasured) {
  const json slots = report(test::sample_result()).at("slots");
  for (const int i : {4, 5}) {  // empty, doubtful
    for (const char* name : {"centre_mm", "axis_deg", "offset_mm", "across_mm", "along_mm", "rotation_deg",
                             "diameter_mm", "uncertainty", "usable_band_mm", "design_fits"}) {
      EXPECT_TRUE(slots[i].at(name).is_null()) << i << " " << name;
    }
    EXPECT_FALSE(slots[i].at("reasons").empty());
  }
  EXPECT_TRUE(slots[6].at("along_mm").is_null());
  EXPECT_TRUE(slots[6].at("uncertainty").at("along_mm").is_null());
  EXPECT_TRUE(slots[6].at("across_mm").is_number());
  EXPECT_TRUE(slots[7].at("diameter_mm").is_null());
  EXPECT_EQ(slots[3].at("design_fits"), false);

  CheckResult unplaced = test::sample_result();
  unplaced.placement.reset();
  unplaced.witness.reset();
  EXPECT_TRUE(report(unplaced).at("fixture").is_null());
  EXPECT_TRUE(report(unplaced).at("witness").is_null());
}

TEST(ReportJson, RoundsAndNeverWritesMinusZero) {
  CheckResult result = test::sample_result();
  result.slots[0].numbers->rotation_deg = -0.00004;
  result.slots[0].numbers->across_mm = 1.0 / 3.0;
  const std::string text = report_json(result, kOptions);
  EXPECT_EQ(text.find("-0.0,"), std::string::npos);
  EXPECT_NE(text.find("\"across_mm\": 0.3333,"), std::string::npos);
  EXPECT_EQ(report(result).at("slots")[0].at("rotation_deg"), 0.0);
}

TEST(ReportJson, RefusesWhatIsNotFinite) {
  CheckResult result = test::sample_result();
  result.slots[0].numbers->budget[0].along_mm = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THROW((void)report_json(result, kOptions), std::logic_error);
}

TEST(ReportJson, SaysWhatItWasMadeFromAndNothingElse) {
  const json root = report(test::sample_result());
  EXPECT_EQ(root.at("created"), "2024-05-01T12:00:00Z");
  EXPECT_EQ(root.at("software_version"), "0.1.0");
  EXPECT_EQ(root.at("photo").at("file"), "bench.jpg");
  EXPECT_EQ(root.at("photo").at("image_size_px"), json::array({1800, 1600}));
  EXPECT_EQ(root.at("witness").at("kept"), 4);
  EXPECT_EQ(root.at("notes").size(), 1u);
  EXPECT_EQ(report_json(test::sample_result(), kOptions), report_json(test::sample_result(), kOptions));
}

TEST(ReportJson, SurvivesHostileNames) {
  CheckResult result = test::sample_result();
  result.photo_file = "broken\xFF.jpg";
  result.slots[0].id = "\"<&>\x01\n\xC3\xA4";
  const json root = report(result);
  EXPECT_EQ(root.at("photo").at("file"), "broken\xEF\xBF\xBD.jpg");
  EXPECT_EQ(root.at("slots")[0].at("id"), result.slots[0].id);
}

}  // namespace
}  // namespace jigtrue
