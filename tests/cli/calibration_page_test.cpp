#include "cli/command_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "support/patterns.hpp"
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <filesystem>
#include <sstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

const std::filesystem::path kCamera = std::filesystem::path(JIGTRUE_SOURCE_DIR) / "fixtures/demo/cameras/attic";

std::vector<std::string> lens_arguments(const std::string& output) {
  std::vector<std::string> photos;
  for (const auto& entry : std::filesystem::directory_iterator(kCamera / "lens"))
    photos.push_back(entry.path().string());
  std::sort(photos.begin(), photos.end());
  std::vector<std::string> arguments = {"lens", "--board", "10x7x20", "-o", output};
  arguments.insert(arguments.end(), photos.begin(), photos.end());
  return arguments;
}

TEST(CalibrationPages, StandBesideTheirFilesAndSayWhatWhereSays) {
  const TemporaryFolder folder;
  const std::string lens = (folder / "lens.json").string();
  const std::string camera = (folder / "camera.json").string();
  const CommandResult first = command(lens_arguments(lens));
  ASSERT_EQ(first.status, 0) << first.err;
  EXPECT_EQ(first.out.find("next photo: "), std::string::npos) << "the boards reach every part of the picture";
  const TemporaryFolder elsewhere;
  std::vector<std::string> poor = lens_arguments((elsewhere / "poor.json").string());
  poor.resize(poor.size() - 10);
  EXPECT_NE(command(poor).out.find("next photo: "), std::string::npos) << "the first four do not";
  EXPECT_NE(read_text_file(folder / "lens.html").find("Which number to trust"), std::string::npos);
  const CommandResult second =
      command({"pose", (kCamera / "pose.jpg").string(), "--lens", lens, "--board", "10x7x20", "--board-at",
               "78,302,-88", "--board-height", "3", "--page-height", "12", "-o", camera});
  ASSERT_EQ(second.status, 0) << second.err;
  const std::string page = read_text_file(folder / "camera.html");
  EXPECT_EQ(files_in(folder.path()), 4u);

  const std::string row =
      R"re(scope="row" class="nobreak">([0-9.]+), ([0-9.]+)</th>.*?<b>([0-9.]+)&nbsp;mm</b>.*>([0-9.]+)&nbsp;mm</td></tr>)re";
  int rows = 0;
  for (const test::Match& match : test::all_matches(page, row)) {
    ++rows;
    const std::string px = match[1] + "," + match[2];
    for (const auto& [height, printed] : {std::pair("0", match[3]), std::pair("12", match[4])}) {
      const CommandResult where = command({"where", px, "--camera", camera, "--height", height, "--json"});
      ASSERT_EQ(where.status, 0) << where.err;
      EXPECT_NEAR(nlohmann::json::parse(where.out)[0]["u_mm"].get<double>(), std::stod(printed), 0.00056);
    }
  }
  EXPECT_EQ(rows, 9);
}

// The board of the demo's pose photo lay with its origin at (78, 302); its first inner corner is seen where camera.json
// has its first point.
TEST(SampleCalibration, CanBeAsked) {
  const std::string camera = JIGTRUE_SOURCE_DIR "/calib/sample/camera.json";
  const auto json = nlohmann::json::parse(read_text_file(camera));
  const auto& point = json["inputs"]["points"][0];  // X, Y, height, then where it is seen
  std::ostringstream px;
  px << point[3].get<double>() << "," << point[4].get<double>();
  const CommandResult where = command({"where", px.str(), "--camera", camera, "--height", "3", "--json"});
  ASSERT_EQ(where.status, 0) << where.err;
  const auto answer = nlohmann::json::parse(where.out)[0];
  EXPECT_NEAR(answer["bed_mm"][0].get<double>(), point[0].get<double>(), answer["u_mm"].get<double>());
  EXPECT_NEAR(answer["bed_mm"][1].get<double>(), point[1].get<double>(), answer["u_mm"].get<double>());
}

TEST(CalibrationPages, RefuseAnOutputOfTheirOwnName) {
  const TemporaryFolder folder;
  const CommandResult refused = command(lens_arguments((folder / "lens.html").string()));
  EXPECT_EQ(refused.status, 2);
  EXPECT_NE(refused.err.find(".json"), std::string::npos);
  EXPECT_EQ(files_in(folder.path()), 0u);
}

}  // namespace
}  // namespace jigtrue::test
