// The main job on the demo's traced photos, whose truth the recipe of tests/scenes knows.
#include "cli/demo_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "support/temporary_folder.hpp"

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <sys/wait.h>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

TEST(MainJob, LensAndPoseSucceedOnTheDemo) {
  EXPECT_EQ(calibration().lens_run.status, 0) << calibration().lens_run.err;
  EXPECT_EQ(calibration().pose_run.status, 0) << calibration().pose_run.err;
  const auto lens = json_of(calibration().lens());
  EXPECT_EQ(lens["schema"], "jigtrue.lens/1");
  EXPECT_EQ(lens["photos"].size(), 14U);
  EXPECT_EQ(calibration().lens_run.out.find("next photo"), std::string::npos)
      << "the boards reach every part of the picture";
  EXPECT_LT(lens["rms_px"].get<double>(), 0.1);
  EXPECT_EQ(json_of(calibration().camera())["schema"], "jigtrue.camera/1");
}

TEST(MainJob, OffsetsOfTheDemoHoldTheTruth) {
  const TemporaryFolder folder;
  const auto run = command({"check", DemoCalibration::photo(), "--camera", calibration().camera(), "--fixture",
                            DemoCalibration::fixture(), "-o", (folder / "out").string()});
  ASSERT_EQ(run.status, 1) << run.err;  // slot 5 is empty
  for (const char* name : {"report.json", "offsets.csv", "layout.svg", "annotated.jpg", "report.html"})
    EXPECT_GT(std::filesystem::file_size(folder / "out" / name), 100U) << name;
  const auto report = json_of(folder / "out/report.json");
  const auto truth = json_of(demo() / "pens/truth.json");
  for (std::size_t i = 0; i < truth["slots"].size(); ++i) {
    const auto& want = truth["slots"][i];
    const auto& got = report["slots"][i];
    ASSERT_EQ(got["state"], want["state"]) << "slot " << i + 1;
    if (want["state"] == "empty") {
      EXPECT_TRUE(got["offset_mm"].is_null());
      continue;
    }
    // the slots lie along X: across is Y. An offset outside 1.5 times its 95 % half-width (3 sigma), or off by 0.1 mm,
    // ruins a pen
    const double across = got["offset_mm"][1].get<double>() - want["offset_mm"][1].get<double>();
    EXPECT_LT(std::abs(across), 1.5 * got["uncertainty"]["across_mm"].get<double>()) << "slot " << i + 1;
    EXPECT_LT(std::abs(across), 0.1) << "slot " << i + 1;
    EXPECT_LT(std::abs(got["rotation_deg"].get<double>() - want["rotation_deg"].get<double>()),
              1.5 * got["uncertainty"]["rotation_deg"].get<double>())
        << "slot " << i + 1;
  }
}

TEST(MainJob, EqualInputGivesEqualNumbers) {
  const TemporaryFolder folder;
  for (const char* name : {"a", "b"})
    ASSERT_EQ(command({"check", DemoCalibration::photo(), "--camera", calibration().camera(), "--fixture",
                       DemoCalibration::fixture(), "-o", (folder / name).string()})
                  .status,
              1);
  EXPECT_EQ(read_text_file(folder / "a/offsets.csv"), read_text_file(folder / "b/offsets.csv"));
  EXPECT_EQ(read_text_file(folder / "a/layout.svg"), read_text_file(folder / "b/layout.svg"));
}

// An empty bed: the pose photo shows no jig at all. No number may come out of it.
TEST(MainJob, GivesNoNumberWhereThereIsNoFixture) {
  const TemporaryFolder folder;
  const auto run = command({"check", DemoCalibration::pose_photo(), "--camera", calibration().camera(), "--fixture",
                            DemoCalibration::fixture(), "-o", (folder / "out").string()});
  ASSERT_EQ(run.status, 1) << run.err;
  const auto report = json_of(folder / "out/report.json");
  for (const auto& slot : report["slots"]) {
    EXPECT_NE(slot["state"], "found") << slot["id"];
    EXPECT_TRUE(slot["offset_mm"].is_null()) << slot["id"];
  }
}

// Lens and pose once more from the files alone: the same camera; and through another model, one that agrees with it.
TEST(MainJob, CalibrationCanBeFittedAgainFromItsFiles) {
  const TemporaryFolder folder;
  const std::string lens = (folder / "lens.json").string();
  const std::string camera = (folder / "camera.json").string();
  const auto where = [](const std::string& file) {
    const auto run = command({"where", "400,300", "1200,900", "--camera", file, "--height", "12", "--json"});
    EXPECT_EQ(run.status, 0) << run.err;
    return nlohmann::json::parse(run.out);
  };
  const auto before = where(calibration().camera());
  for (const std::string model : {"", "radial5"}) {
    std::vector<std::string> arguments = {"lens", "--refit", calibration().camera(), "-o", lens};
    if (!model.empty()) arguments.insert(arguments.end(), {"--model", model});
    const auto fitted = command(arguments);
    ASSERT_EQ(fitted.status, 0) << fitted.err;
    const auto posed = command({"pose", "--refit", calibration().camera(), "--lens", lens, "-o", camera});
    ASSERT_EQ(posed.status, 0) << posed.err;
    EXPECT_EQ(json_of(camera)["witness"].size(), 2u);
    EXPECT_EQ(json_of(lens)["model"],
              model.empty() ? json_of(calibration().lens())["model"].get<std::string>() : model);
    const auto after = where(camera);
    for (std::size_t i = 0; i < 2; ++i) {
      const double u_mm = before[i]["u_mm"];
      // corners are kept to 1e-4 px; two models differ by less than the uncertainty that both state
      const double allowed = model.empty() ? 0.02 * u_mm + 2e-4 : u_mm;
      for (const int axis : {0, 1})
        EXPECT_NEAR(after[i]["bed_mm"][axis].get<double>(), before[i]["bed_mm"][axis].get<double>(), allowed) << model;
      EXPECT_NEAR(after[i]["u_mm"].get<double>() / u_mm, 1.0, model.empty() ? 0.05 : 0.5) << model;
    }
  }
}

TEST(MainJob, WhereAnswersWithTheBedPointAndItsRadius) {
  const auto run = command({"where", "800,600", "--camera", calibration().camera(), "--height", "10", "--json"});
  ASSERT_EQ(run.status, 0) << run.err;
  const auto list = nlohmann::json::parse(run.out);
  ASSERT_EQ(list.size(), 1U);
  EXPECT_EQ(list[0]["px"], nlohmann::json({800.0, 600.0}));
  EXPECT_GT(list[0]["u_mm"].get<double>(), 0.0);
}

TEST(Help, EveryCommandTeachesWithAnExample) {
  EXPECT_EQ(command({"--help"}).status, 0);
  EXPECT_NE(command({"--help"}).out.find("jigtrue check"), std::string::npos);
  for (const char* name : {"lens", "pose", "check", "where"}) {
    const auto run = command({name, "--help"});
    EXPECT_EQ(run.status, 0) << name;
    EXPECT_NE(run.out.find(std::string("Example: jigtrue ") + name), std::string::npos) << name;
  }
}

// The line of a command's help that begins with "Example: ".
std::string example_of(const std::string& name) {
  const std::string help = command({name, "--help"}).out;
  const std::string mark = "Example: ";
  const std::size_t from = help.find(mark + "jigtrue " + name);
  if (from == std::string::npos) return {};
  return help.substr(from + mark.size(), help.find('\n', from) - from - mark.size());
}

// Typed as printed, one after the other, in a folder beside the demo's files: each step's files feed the next.
TEST(Help, ExamplesRunAsPrinted) {
  const TemporaryFolder folder;
  std::filesystem::create_directory_symlink(std::filesystem::path(JIGTRUE_SOURCE_DIR) / "fixtures",
                                            folder / "fixtures");
  const std::string program_folder = std::filesystem::path(JIGTRUE_PROGRAM).parent_path().string();
  const std::string there = "cd '" + folder.path().string() + "' && PATH='" + program_folder + "':$PATH && ";
  for (const auto& [name, status] :
       {std::pair<std::string, int>{"lens", 0}, {"pose", 0}, {"check", 1}, {"where", 0}, {"place", 1}}) {
    const std::string example = example_of(name);
    ASSERT_FALSE(example.empty()) << name;
    const int ended = std::system((there + example + " >log 2>&1").c_str());
    // the demo's fifth slot is empty: check and place end with 1
    ASSERT_EQ(WIFEXITED(ended) ? WEXITSTATUS(ended) : -1, status) << example << "\n" << read_text_file(folder / "log");
  }
}

}  // namespace
}  // namespace jigtrue::test
