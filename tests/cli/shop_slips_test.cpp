// What a shop gets wrong on an ordinary day, on the demo: each is told, and costs no load.
#include "cli/demo_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "support/temporary_folder.hpp"

#include <cmath>
#include <fstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>
#include <opencv2/imgproc.hpp>

namespace jigtrue::test {
namespace {

using nlohmann::json;

class ShopSlips : public testing::Test {
 protected:
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(folder / name, std::ios::binary) << text;
  }
  [[nodiscard]] std::string path(const std::string& name) const { return (folder / name).string(); }
  [[nodiscard]] CommandResult check(const std::string& photo, const std::string& fixture,
                                    const std::vector<std::string>& more = {},
                                    const std::string& camera = calibration().camera()) const {
    std::vector<std::string> arguments = {"check", photo, "--camera", camera, "--fixture", fixture, "-o", path("out")};
    arguments.insert(arguments.end(), more.begin(), more.end());
    return command(arguments);
  }
  [[nodiscard]] json report() const { return json_of(folder / "out/report.json"); }

  // The demo's fixture naming a machine file beside it.
  [[nodiscard]] std::string fixture_naming(const std::string& machine_json) const {
    write("machine.json", machine_json);
    json fixture = json::parse(read_text_file(DemoCalibration::fixture()));
    fixture["machine"] = "machine.json";
    write("fixture.json", fixture.dump());
    return path("fixture.json");
  }

  TemporaryFolder folder;
};

const std::string kBed = R"({"schema": "jigtrue.machine/1", "bed_mm": [300, 400], "origin_corner": "front-left"})";
const std::string kSmallBed = R"({"schema": "jigtrue.machine/1", "bed_mm": [150, 400], "origin_corner": "front-left"})";

// The pens' designs reach from about X = 107 to 167 on a bed that ends at 150.
TEST_F(ShopSlips, ADesignOffTheBedIsNotReady) {
  const CommandResult run = check(DemoCalibration::photo(), fixture_naming(kSmallBed));
  EXPECT_EQ(run.status, 1) << run.err;
  EXPECT_NE(run.out.find("0 of 6 slots ready"), std::string::npos) << run.out;
  EXPECT_NE(run.out.find(" mm beyond the right edge of the bed (150 x 400 mm)"), std::string::npos) << run.out;
  EXPECT_EQ(read_text_file(folder / "out/layout.svg").find("data-slot"), std::string::npos);
  const json found = report();
  for (const json& slot : found["slots"])
    EXPECT_EQ(slot["state"] == "found", slot["design_fits"] == false) << slot["id"];
}

TEST_F(ShopSlips, AMachineNamedOnceServesEveryCommand) {
  ASSERT_LE(check(DemoCalibration::photo(), fixture_naming(kBed)).status, 1);
  EXPECT_NE(read_text_file(folder / "out/layout.svg").find("width=\"300.000mm\" height=\"400.000mm\""),
            std::string::npos);
  EXPECT_TRUE(report()["cautions"].empty()) << report()["cautions"];
  // the report remembers it: place writes the same page, and refuses what leaves it
  const CommandResult placed = command(
      {"place", path("out/report.json"), "--design", (demo() / "pens/name.svg").string(), "-o", path("placed")});
  ASSERT_LE(placed.status, 1) << placed.err;
  EXPECT_EQ(placed.out.find("not the machine's bed"), std::string::npos) << placed.out;
  EXPECT_NE(read_text_file(folder / "placed/layout.svg").find("height=\"400.000mm\""), std::string::npos);
  // without one: told on the terminal, in the report, on the page and in the file
  json nameless = json::parse(read_text_file(DemoCalibration::fixture()));
  nameless.erase("machine");
  write("nameless.json", nameless.dump());
  const CommandResult bare = check(DemoCalibration::photo(), path("nameless.json"));
  EXPECT_NE(bare.out.find("caution: The layout's page is not the machine's bed: it is "), std::string::npos)
      << bare.out;
  EXPECT_EQ(report()["cautions"].size(), 1u);
  EXPECT_NE(read_text_file(folder / "out/report.html").find("page is not the machine&#39;s bed"), std::string::npos);
  EXPECT_NE(read_text_file(folder / "out/layout.svg").find("the page is not the bed"), std::string::npos);
}

TEST_F(ShopSlips, WithoutWitnessMarksTheVerdictSaysWhatWouldNotBeNoticed) {
  const CommandResult pose =
      command({"pose", DemoCalibration::pose_photo(), "--lens", calibration().lens(), "--board", "10x7x20",
               "--board-at", "78,302,-88", "--board-height", "3", "-o", path("camera.json")});
  ASSERT_EQ(pose.status, 0) << pose.err;
  const CommandResult bare = check(DemoCalibration::photo(), fixture_naming(kBed), {}, path("camera.json"));
  EXPECT_NE(bare.out.find(
                "caution: The camera file keeps no witness marks: had the camera moved since, it would not be noticed"),
            std::string::npos)
      << bare.out;
  EXPECT_NE(read_text_file(folder / "out/report.html").find("had the camera moved since"), std::string::npos);
  EXPECT_EQ(check(DemoCalibration::photo(), fixture_naming(kBed)).out.find("caution"), std::string::npos);
}

TEST_F(ShopSlips, WhatIsToBeEngravedIsDrawnOnThePhoto) {
  const std::string name = (demo() / "pens/name.svg").string();
  ASSERT_LE(check(DemoCalibration::photo(), fixture_naming(kBed), {"--design", name}).status, 1);
  const std::string page = read_text_file(folder / "out/report.html");
  EXPECT_NE(page.find("id=\"see-ink\""), std::string::npos);
  EXPECT_NE(page.find("class=\"ink-line\""), std::string::npos);
  EXPECT_NE(page.find("class=\"compass"), std::string::npos);
  // and again after place, from the report alone
  const CommandResult placed = command({"place", path("out/report.json"), "--design", name, "-o", path("placed")});
  ASSERT_LE(placed.status, 1) << placed.err;
  const std::string again = read_text_file(folder / "placed/report.html");
  EXPECT_NE(again.find("class=\"ink-line\""), std::string::npos);
  EXPECT_GT(std::filesystem::file_size(folder / "placed/annotated.jpg"), 10'000u);
  // a photo that is gone or another one by now: told, and the layout is written all the same
  json moved = report();
  moved["photo"]["digest"] = "0000000000000000";
  write("out/report.json", moved.dump());
  const CommandResult without = command({"place", path("out/report.json"), "--design", name, "-o", path("without")});
  EXPECT_NE(without.out.find("is not where it was, or not the same"), std::string::npos) << without.out;
  EXPECT_FALSE(std::filesystem::exists(folder / "without/annotated.jpg"));
  EXPECT_TRUE(std::filesystem::exists(folder / "without/layout.svg"));
}

// Copies of the demo's photo as they come back from a chat.
class TreatedCopies : public ShopSlips {
 protected:
  [[nodiscard]] static cv::Mat3b original() {
    const Photo photo = read_photo(DemoCalibration::photo());
    return shrink(photo, std::max(photo.width_px(), photo.height_px())).bgr;
  }
  [[nodiscard]] CommandResult check_copy(const cv::Mat3b& picture) const {
    write("copy.jpg", encode_jpeg(picture));
    return check(path("copy.jpg"), fixture_naming(kBed));
  }
  // Every number within what is stated for it; 3 sigma, as for the original.
  void holds_the_truth(const json& found) const {
    const json truth = json_of(demo() / "pens/truth.json");
    int measured = 0;
    for (std::size_t i = 0; i < truth["slots"].size(); ++i) {
      const json& got = found["slots"][i];
      if (got["state"] != "found") continue;
      ++measured;
      const double across = got["offset_mm"][1].get<double>() - truth["slots"][i]["offset_mm"][1].get<double>();
      EXPECT_LT(std::abs(across), 1.5 * got["uncertainty"]["across_mm"].get<double>()) << "slot " << i + 1;
    }
    EXPECT_GE(measured, 3);
  }
  [[nodiscard]] static double mean_across(const json& found) {
    double sum = 0.0;
    int count = 0;
    for (const json& slot : found["slots"]) {
      if (slot["uncertainty"].is_null()) continue;
      sum += slot["uncertainty"]["across_mm"].get<double>();
      ++count;
    }
    return sum / count;
  }
};

TEST_F(TreatedCopies, WithoutColourStateMore) {
  ASSERT_LE(check(DemoCalibration::photo(), fixture_naming(kBed)).status, 1);
  const double before = mean_across(report());
  cv::Mat1b grey;
  cv::cvtColor(original(), grey, cv::COLOR_BGR2GRAY);
  cv::Mat3b copy;
  cv::cvtColor(grey, copy, cv::COLOR_GRAY2BGR);
  const CommandResult run = check_copy(copy);
  ASSERT_LE(run.status, 1) << run.err;
  EXPECT_NE(report()["notes"].dump().find("The photo has no colour"), std::string::npos) << report()["notes"];
  EXPECT_GT(mean_across(report()), 1.2 * before);
  holds_the_truth(report());
}

TEST_F(TreatedCopies, MadeSmallerAndEnlargedStateMore) {
  ASSERT_LE(check(DemoCalibration::photo(), fixture_naming(kBed)).status, 1);
  const double before = mean_across(report());
  const cv::Mat3b whole = original();
  cv::Mat3b small;
  cv::Mat3b copy;
  cv::resize(whole, small, whole.size() / 2, 0, 0, cv::INTER_AREA);
  cv::resize(small, copy, whole.size(), 0, 0, cv::INTER_CUBIC);
  const CommandResult run = check_copy(copy);
  ASSERT_LE(run.status, 1) << run.err;
  EXPECT_NE(report()["notes"].dump().find("sharpest edges are blurred"), std::string::npos) << report()["notes"];
  EXPECT_GT(mean_across(report()), 1.5 * before);
  holds_the_truth(report());
}

TEST_F(TreatedCopies, OfAnotherSizeAreRefusedAsCopies) {
  const cv::Mat3b whole = original();
  cv::Mat3b small;
  cv::resize(whole, small, whole.size() / 2, 0, 0, cv::INTER_AREA);
  const CommandResult run = check_copy(small);
  EXPECT_EQ(run.status, 2);
  EXPECT_NE(
      run.err.find(
          "of the same shape, so probably a copy made smaller on its way here; give the file as the camera saved it"),
      std::string::npos)
      << run.err;
}

// Saved anew without loss or with a messenger's: the same answer.
TEST_F(TreatedCopies, SavedAnewAgree) {
  ASSERT_LE(check(DemoCalibration::photo(), fixture_naming(kBed)).status, 1);
  const json before = report();
  ASSERT_LE(check_copy(original()).status, 1);
  const json after = report();
  for (std::size_t i = 0; i < before["slots"].size(); ++i) {
    ASSERT_EQ(after["slots"][i]["state"], before["slots"][i]["state"]) << i + 1;
    if (before["slots"][i]["across_mm"].is_null()) continue;
    EXPECT_NEAR(after["slots"][i]["across_mm"].get<double>(), before["slots"][i]["across_mm"].get<double>(),
                before["slots"][i]["uncertainty"]["across_mm"].get<double>());
  }
}

}  // namespace
}  // namespace jigtrue::test
