// The README's worked round, typed as printed: what it says must be what happens.
#include "jigtrue/base/read_file.hpp"
#include "support/temporary_folder.hpp"

#include <cstdlib>
#include <filesystem>
#include <sstream>
#include <sys/wait.h>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

constexpr const char* kFont = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";

struct Line {
  std::string command;
  int status = 0;  // "# ends with N" behind the command says so when it is not 0
};

// Commands of the fenced blocks below this heading, up to the next one; a line that ends with a backslash goes on.
std::vector<Line> commands_under(const std::string& heading) {
  std::istringstream readme(read_text_file(std::filesystem::path(JIGTRUE_SOURCE_DIR) / "README.md"));
  std::vector<Line> lines;
  std::string text;
  bool here = false;
  bool fenced = false;
  bool going_on = false;
  while (std::getline(readme, text)) {
    if (text.starts_with("## ")) here = text == heading;
    if (text.starts_with("```")) fenced = !fenced;
    if (!here || !fenced || (!going_on && !text.starts_with("jigtrue "))) continue;
    if (!going_on) lines.emplace_back();
    going_on = text.ends_with("\\");
    if (going_on) text.pop_back();
    lines.back().command += text;
  }
  for (Line& line : lines) {
    const std::string mark = "# ends with ";
    const std::size_t at = line.command.find(mark);
    if (at != std::string::npos) line.status = line.command[at + mark.size()] - '0';
  }
  return lines;
}

class WorkedRound : public testing::Test {
 protected:
  // Runs all of it once, beside the demo's files.
  static void SetUpTestSuite() {
    folder_ = new TemporaryFolder;
    std::filesystem::create_directory_symlink(std::filesystem::path(JIGTRUE_SOURCE_DIR) / "fixtures",
                                              *folder_ / "fixtures");
    const bool font = std::filesystem::exists(kFont);
    if (font) std::filesystem::create_symlink(kFont, *folder_ / "letters.ttf");
    const std::string program_folder = std::filesystem::path(JIGTRUE_PROGRAM).parent_path().string();
    const std::vector<Line> lines = commands_under("## The whole round, worked");
    EXPECT_GE(lines.size(), 9U);
    for (const Line& line : lines) {
      if (!font && line.command.find("letters.ttf") != std::string::npos) continue;
      const std::string all = "cd '" + folder_->path().string() + "' && PATH='" + program_folder + "':$PATH && " +
                              line.command.substr(0, line.command.find("# ends")) + " >log 2>&1";
      const int ended = std::system(all.c_str());
      EXPECT_EQ(WIFEXITED(ended) ? WEXITSTATUS(ended) : -1, line.status) << line.command << "\n"
                                                                         << read_text_file(*folder_ / "log");
    }
  }
  static void TearDownTestSuite() {
    delete folder_;
    folder_ = nullptr;
  }

  [[nodiscard]] static nlohmann::json json_of(const std::string& file) {
    return nlohmann::json::parse(read_text_file(*folder_ / file));
  }
  // Found slots against what was put there: across, which the beam feels.
  static void expect_truth(const std::string& load, const std::string& truth_file) {
    const auto report = json_of(load + "/report.json");
    const auto truth = json_of("fixtures/demo/pens/" + truth_file);
    for (std::size_t i = 0; i < truth["slots"].size(); ++i) {
      const auto& real = truth["slots"][i];
      const auto& got = report["slots"][i];
      EXPECT_EQ(got["state"], real["state"]) << load << " slot " << i + 1;
      if (real["state"] != "found" || got["offset_mm"].is_null()) continue;
      const double off = got["offset_mm"][1].get<double>() - real["offset_mm"][1].get<double>();
      EXPECT_LE(std::abs(off), 1.5 * got["uncertainty"]["across_mm"].get<double>()) << load << " slot " << i + 1;
      EXPECT_LE(std::abs(off), 0.1) << load << " slot " << i + 1;
    }
  }

  static TemporaryFolder* folder_;
};
TemporaryFolder* WorkedRound::folder_ = nullptr;

TEST_F(WorkedRound, MeasuresAllThreeLoads) {
  expect_truth("load-1", "truth.json");
  expect_truth("load-2", "truth-2.json");
  expect_truth("load-3", "truth-3.json");
  EXPECT_NE(json_of("load-3/report.json")["notes"].dump().find("placed anew by 4 witness marks"), std::string::npos);
}

TEST_F(WorkedRound, PlacesWhatIsToBeBurned) {
  const auto passes = json_of("load-1/passes/placement.json");
  EXPECT_EQ(passes["run_time"]["passes"].size(), 2U);
  EXPECT_EQ(passes["left_out"].size(), 1U);
  EXPECT_TRUE(std::filesystem::exists(*folder_ / "load-1/passes/layout.dxf"));
  EXPECT_TRUE(std::filesystem::exists(*folder_ / "load-1/own/layout.svg"));
}

TEST_F(WorkedRound, KeepsARecordOfAllLoads) {
  EXPECT_TRUE(std::filesystem::exists(*folder_ / "trend/trend.html"));
  EXPECT_TRUE(std::filesystem::exists(*folder_ / "moved.jpg"));
}

TEST(Readme, ShowsPicturesThatAreThere) {
  const std::string readme = read_text_file(std::filesystem::path(JIGTRUE_SOURCE_DIR) / "README.md");
  int pictures = 0;
  for (std::size_t at = readme.find("]("); at != std::string::npos; at = readme.find("](", at + 2)) {
    const std::string target = readme.substr(at + 2, readme.find(')', at) - at - 2);
    EXPECT_TRUE(std::filesystem::exists(std::filesystem::path(JIGTRUE_SOURCE_DIR) / target)) << target;
    if (!target.ends_with(".jpg") && !target.ends_with(".png")) continue;
    ++pictures;
    EXPECT_LT(std::filesystem::file_size(std::filesystem::path(JIGTRUE_SOURCE_DIR) / target), 200'000U) << target;
  }
  EXPECT_GE(pictures, 4);
}

}  // namespace
}  // namespace jigtrue::test
