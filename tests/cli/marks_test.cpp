// What marks do from the command line, on traced photos whose truth is known: a camera that was knocked, a jig that
// stands askew, a photo that locates itself, and the record of many checks.
#include "cli/demo_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/geometry/types.hpp"

#include <cmath>
#include <fstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

Vector2d place(const nlohmann::json& pair) { return {pair[0].get<double>(), pair[1].get<double>()}; }

nlohmann::json json_of(const std::filesystem::path& file) { return nlohmann::json::parse(read_text_file(file)); }

std::filesystem::path scene(const std::string& name) {
  return std::filesystem::path(JIGTRUE_SOURCE_DIR) / "tests/scenes/small" / name;
}
std::string photo(const std::string& name) { return (scene(name) / "photo.jpg").string(); }
std::string fixture(const std::string& name) { return (scene(name) / "fixture.json").string(); }

// The demo's camera with all four of its bed marks.
const std::string& four_marks_camera() {
  static const TemporaryFolder folder;
  static const std::string file = (folder / "camera.json").string();
  static const CommandResult run = command({"pose",
                                            DemoCalibration::pose_photo(),
                                            "--lens",
                                            calibration().lens(),
                                            "--board",
                                            "10x7x20",
                                            "--board-at",
                                            "78,302,-88",
                                            "--board-height",
                                            "3",
                                            "--witness",
                                            "12,12",
                                            "--witness",
                                            "288,12",
                                            "--witness",
                                            "12,388",
                                            "--witness",
                                            "288,388",
                                            "-o",
                                            file});
  EXPECT_EQ(run.status, 0) << run.err;
  return file;
}

// Offsets against the truth: across, in units that ruin a pen.
void expect_truth(const nlohmann::json& report, const std::string& name) {
  const auto truth = json_of(scene(name) / "truth.json");
  int measured = 0;
  for (std::size_t i = 0; i < truth["slots"].size(); ++i) {
    const auto& got = report["slots"][i];
    if (truth["slots"][i]["state"] != "found" || got["centre_mm"].is_null()) continue;
    ++measured;
    for (std::size_t k = 0; k < 2; ++k)
      EXPECT_NEAR(got["offset_mm"][k].get<double>(), truth["slots"][i]["offset_mm"][k].get<double>(), 0.15)
          << name << " slot " << i + 1;
  }
  EXPECT_GE(measured, 2) << name;
}

TEST(Marks, AKnockedCameraIsRefusedAndNothingIsWritten) {
  const TemporaryFolder folder;
  const auto picture = folder / "move.jpg";
  const auto run = command({"check", photo("knocked"), "--camera", four_marks_camera(), "--fixture", fixture("knocked"),
                            "--show-move", picture.string(), "-o", (folder / "out").string()});
  EXPECT_EQ(run.status, 2);
  EXPECT_NE(run.err.find("the camera has moved by "), std::string::npos) << run.err;
  EXPECT_NE(run.err.find(": run pose again"), std::string::npos) << run.err;
  EXPECT_GT(std::filesystem::file_size(picture), 1000U);
  EXPECT_TRUE(!std::filesystem::exists(folder / "out") || std::filesystem::is_empty(folder / "out"));
}

TEST(Marks, ReposeMeasuresTheKnockedPhotoByTheBedsMarks) {
  const TemporaryFolder folder;
  const auto run = command({"check", photo("knocked"), "--camera", four_marks_camera(), "--fixture", fixture("knocked"),
                            "--repose", "-o", (folder / "out").string()});
  ASSERT_LE(run.status, 1) << run.err;
  const auto report = json_of(folder / "out/report.json");
  EXPECT_NE(report["notes"].dump().find("placed anew by 4 witness marks"), std::string::npos);
  expect_truth(report, "knocked");
}

TEST(Marks, TellAShiftedFixtureAndItsTurn) {
  const TemporaryFolder folder;
  const auto run = command({"check", photo("marked"), "--camera", four_marks_camera(), "--fixture", fixture("marked"),
                            "-o", (folder / "out").string()});
  ASSERT_LE(run.status, 1) << run.err;
  const auto report = json_of(folder / "out/report.json");
  const auto truth = json_of(scene("marked") / "truth.json")["fixture_shift"];
  EXPECT_EQ(report["fixture"]["from"], "marks");
  for (std::size_t k = 0; k < 2; ++k)
    EXPECT_NEAR(report["fixture"]["shift_mm"][k].get<double>(), truth["shift_mm"][k].get<double>(), 0.03);
  EXPECT_NEAR(report["fixture"]["turn_deg"].get<double>(), truth["turn_deg"].get<double>(), 0.02);
  EXPECT_EQ(report["witness"]["seen"], 4);
  expect_truth(report, "marked");
}

// Its four marks are a rectangle: half a turn shows nowhere, so it must be told. Then the fixture stands at its nominal
// place by definition, and what is left are the blanks' own places in it.
TEST(Marks, LetAPhotoLocateItself) {
  const TemporaryFolder folder;
  const std::vector<std::string> arguments{"check",
                                           photo("marked"),
                                           "--self-locate",
                                           "--lens",
                                           calibration().lens(),
                                           "--fixture",
                                           fixture("marked"),
                                           "-o",
                                           (folder / "out").string()};
  const auto open = command(arguments);
  EXPECT_EQ(open.status, 2);
  EXPECT_NE(open.err.find("--photo-top"), std::string::npos) << open.err;
  std::vector<std::string> told = arguments;
  told.insert(told.end(), {"--photo-top", "right"});
  const auto run = command(told);
  ASSERT_LE(run.status, 1) << run.err;
  const auto report = json_of(folder / "out/report.json");
  EXPECT_TRUE(report["self_located"].get<bool>());
  EXPECT_NEAR(report["fixture"]["shift_mm"][0].get<double>(), 0.0, 0.01);
  const auto truth = json_of(scene("marked") / "truth.json");
  const auto nominal = json_of(fixture("marked"));
  Vector2d centre = Vector2d::Zero();
  for (const auto& slot : nominal["slots"])
    centre += place(slot["centre_mm"]) / static_cast<double>(nominal["slots"].size());
  const Vector2d shift = place(truth["fixture_shift"]["shift_mm"]);
  const Eigen::Rotation2Dd back(-rad_from_deg(truth["fixture_shift"]["turn_deg"].get<double>()));
  for (std::size_t i = 0; i < truth["slots"].size(); ++i) {
    const auto& want = truth["slots"][i]["centre_mm"];
    const Vector2d own = centre + back * (place(want) - centre - shift);
    const auto& got = report["slots"][i]["centre_mm"];
    ASSERT_FALSE(got.is_null()) << i;
    EXPECT_LE((place(got) - own).norm(), 0.1) << "slot " << i + 1;
  }
}

TEST(Marks, OptionsThatContradictEachOtherAreRefused) {
  const TemporaryFolder folder;
  const std::string out = (folder / "out").string();
  const auto refused = [&](std::vector<std::string> more, const std::string& says) {
    std::vector<std::string> arguments{"check", photo("marked"), "--fixture", fixture("marked"), "-o", out};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const auto run = command(arguments);
    EXPECT_EQ(run.status, 2);
    EXPECT_NE(run.err.find(says), std::string::npos) << run.err;
  };
  refused({}, "--camera");
  refused({"--self-locate"}, "--lens");
  refused({"--self-locate", "--lens", calibration().lens(), "--camera", four_marks_camera()}, "--camera");
  refused({"--self-locate", "--lens", calibration().lens(), "--photo-top", "north"}, "north");
  refused({"--camera", four_marks_camera(), "--lens", calibration().lens()}, "--lens");
}

TEST(Marks, ChecksAreRecordedShownAndSettled) {
  const TemporaryFolder folder;
  const std::string record = (folder / "loads").string();
  std::ofstream(record) << "{\"half a line";
  for (int i = 0; i < 6; ++i)
    ASSERT_LE(command({"check", photo("marked"), "--camera", four_marks_camera(), "--fixture", fixture("marked"),
                       "--record", record, "-o", (folder / "out").string()})
                  .status,
              1);
  const auto trend = command({"trend", "--record", record, "-o", (folder / "trend").string()});
  EXPECT_EQ(trend.status, 0) << trend.err;
  EXPECT_NE(trend.err.find("1 damaged"), std::string::npos);
  EXPECT_NE(trend.out.find("6 loads"), std::string::npos) << trend.out;
  EXPECT_GT(std::filesystem::file_size(folder / "trend/trend.html"), 1000U);
  const auto settled =
      command({"settle", "--record", record, "--fixture", fixture("marked"), "-o", (folder / "new.json").string()});
  EXPECT_EQ(settled.status, 0) << settled.err;
  EXPECT_NE(settled.out.find("slots moved"), std::string::npos) << settled.out;
  // the same photo against the settled file: hardly anything is left to the slots themselves
  ASSERT_LE(command({"check", photo("marked"), "--camera", four_marks_camera(), "--fixture",
                     (folder / "new.json").string(), "-o", (folder / "after").string()})
                .status,
            1);
  const auto report = json_of(folder / "after/report.json");
  EXPECT_EQ(report["notes"].dump().find("off in their slots"), std::string::npos) << report["notes"];
  EXPECT_EQ(command({"settle", "--record", record, "--fixture", fixture("marked"), "-o", fixture("marked")}).status, 2);
}

TEST(Marks, ARecordThatCannotBeWrittenDoesNotBlockTheCheck) {
  const TemporaryFolder folder;
  const auto run = command({"check", photo("marked"), "--camera", four_marks_camera(), "--fixture", fixture("marked"),
                            "--record", (folder / "missing/loads").string(), "-o", (folder / "out").string()});
  EXPECT_LE(run.status, 1);
  EXPECT_NE(run.err.find("not recorded"), std::string::npos) << run.err;
  EXPECT_TRUE(std::filesystem::exists(folder / "out/report.json"));
}

// The bed's own marks, taken for marks that the machine burned: the camera they give agrees with the board's.
TEST(Marks, GiveThePoseThatTheBoardGives) {
  const TemporaryFolder folder;
  std::ofstream(folder / "marks.json")
      << R"({"schema": "jigtrue.marks/1", "marks_mm": [[12,12,0],[288,12,0],[12,388,0],[288,388,0]]})";
  const std::string camera = (folder / "camera.json").string();
  const auto run = command({"pose", photo("marked"), "--lens", calibration().lens(), "--marks",
                            (folder / "marks.json").string(), "--photo-top", "right", "-o", camera});
  ASSERT_EQ(run.status, 0) << run.err;
  for (const char* px : {"800,600", "500,500", "1200,800"}) {
    const auto by_marks = command({"where", px, "--camera", camera, "--json"});
    const auto by_board = command({"where", px, "--camera", four_marks_camera(), "--json"});
    ASSERT_EQ(by_marks.status, 0) << by_marks.err;
    const auto a = nlohmann::json::parse(by_marks.out)[0];
    const auto b = nlohmann::json::parse(by_board.out)[0];
    const Vector2d off = place(a["bed_mm"]) - place(b["bed_mm"]);
    EXPECT_LE(off.norm(), std::hypot(a["u_mm"].get<double>(), b["u_mm"].get<double>()) + 0.1) << px;
  }
  const auto both = command({"pose", photo("marked"), "--lens", calibration().lens(), "--marks",
                             (folder / "marks.json").string(), "--board", "10x7x20", "-o", camera});
  EXPECT_EQ(both.status, 2);
}

}  // namespace
}  // namespace jigtrue::test
