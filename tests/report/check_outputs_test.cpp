#include "jigtrue/report/check_outputs.hpp"

#include "jigtrue/base/error.hpp"
#include "support/sample_result.hpp"
#include "support/temporary_folder.hpp"

#include <filesystem>
#include <fstream>
#include <set>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

const ReportOptions kOnMachine{"2024-05-01T12:00:00Z", "0.1.0", Machine{{420, 380}, OriginCorner::front_left, {}}};

Photo grey_picture(const CheckResult& result) {
  Photo photo;
  photo.file = result.photo_file;
  photo.luma = cv::Mat1b(result.height_px, result.width_px, uchar{100});
  return photo;
}

std::set<std::string> names_in(const std::filesystem::path& folder) {
  std::set<std::string> names;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) names.insert(entry.path().filename().string());
  return names;
}

TEST(CheckOutputs, WritesTheFiveFiles) {
  const test::TemporaryFolder folder;
  const CheckResult result = test::sample_result();
  write_check_outputs(folder / "out", result, grey_picture(result), kOnMachine);
  EXPECT_EQ(names_in(folder / "out"),
            (std::set<std::string>{"report.json", "offsets.csv", "layout.svg", "annotated.jpg", "report.html"}));
  for (const auto& entry : std::filesystem::directory_iterator(folder / "out"))
    EXPECT_GT(entry.file_size(), 100u) << entry.path();
}

TEST(CheckOutputs, WritesNoneWhenOneCannotBeWritten) {
  const test::TemporaryFolder folder;
  std::filesystem::create_directories(folder / "out/layout.svg/in the way");
  std::ofstream(folder / "out/report.json") << "old";
  const CheckResult result = test::sample_result();
  EXPECT_THROW(write_check_outputs(folder / "out", result, grey_picture(result), kOnMachine), InputError);
  EXPECT_EQ(names_in(folder / "out"), (std::set<std::string>{"report.json", "layout.svg"}));
  std::string kept;
  std::ifstream(folder / "out/report.json") >> kept;
  EXPECT_EQ(kept, "old");
}

TEST(CheckOutputs, EqualInputGivesEqualBytesAndCautionsAreReported) {
  const CheckResult result = test::sample_result();
  const Photo photo = grey_picture(result);
  ReportOptions options = kOnMachine;
  options.machine.reset();
  const auto once = check_outputs("out", result, photo, options);
  const auto again = check_outputs("out", result, photo, options);
  ASSERT_EQ(once.size(), 5u);
  for (std::size_t i = 0; i < once.size(); ++i) EXPECT_EQ(once[i].bytes, again[i].bytes) << once[i].path;
  const auto report = nlohmann::json::parse(once[0].bytes);
  ASSERT_EQ(report.at("cautions").size(), 1u);
  EXPECT_NE(report.at("cautions")[0].get<std::string>().find("not the machine's bed"), std::string::npos);
}

}  // namespace
}  // namespace jigtrue
