// The program, from photos to report, against traced photos whose truth comes from a recipe that shares nothing with it
// (README.md here). What is held: every slot's state, and every number within what it claims.
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <numbers>
#include <stdexcept>
#include <string>
#include <sys/wait.h>
#include <vector>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

const fs::path demo = fs::path(JIGTRUE_SOURCE_DIR) / "fixtures" / "demo";
const fs::path small = fs::path(JIGTRUE_SOURCE_DIR) / "tests" / "scenes" / "small";

json read_json(const fs::path& file) {
  std::ifstream stream(file);
  if (!stream) throw std::runtime_error("cannot read " + file.string());
  return json::parse(stream);
}

std::vector<fs::path> scene_folders() {
  std::vector<fs::path> folders;
  for (const fs::path& root : {demo, small}) {
    if (!fs::exists(root)) continue;
    for (const auto& entry : fs::directory_iterator(root)) {
      if (fs::exists(entry.path() / "truth.json")) folders.push_back(entry.path());
    }
  }
  std::sort(folders.begin(), folders.end());
  return folders;
}

std::string quoted(const std::string& word) { return "'" + word + "'"; }

std::string number(double value) { return json(value).dump(); }

// Exit status of the program; what it says goes to `log`.
int run(const std::vector<std::string>& words, const fs::path& log) {
  std::string line = quoted(JIGTRUE_PROGRAM);
  for (const std::string& word : words) line += " " + quoted(word);
  const int status = std::system((line + " >" + quoted(log.string()) + " 2>&1").c_str());
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

std::string text_of(const fs::path& file) {
  std::ifstream stream(file);
  return {std::istreambuf_iterator<char>(stream), {}};
}

// As `run`, of what must succeed.
void run_well(const std::vector<std::string>& words, const fs::path& log) {
  if (run(words, log) != 0) throw std::runtime_error(words.front() + ": " + text_of(log));
}

// lens.json and camera.json of one of the recipe's cameras, into `work`.
void calibrate(const std::string& name, const fs::path& work) {
  const fs::path folder = fs::exists(small / "cameras" / name) ? small / "cameras" / name : demo / "cameras" / name;
  const json board = read_json(folder / "board.json");
  const std::string squares =
      board["squares"][0].dump() + "x" + board["squares"][1].dump() + "x" + board["square_mm"].dump();
  std::vector<std::string> lens{"lens"};
  for (const auto& entry : fs::directory_iterator(folder / "lens")) lens.push_back(entry.path().string());
  std::sort(lens.begin() + 1, lens.end());
  lens.insert(lens.end(), {"--board", squares, "-o", (work / "lens.json").string()});
  run_well(lens, work / "lens.log");

  const json& at = board["pose"];
  std::vector<std::string> pose{"pose",
                                (folder / "pose.jpg").string(),
                                "--lens",
                                (work / "lens.json").string(),
                                "--board",
                                squares,
                                "--board-at",
                                number(at["x_mm"]) + "," + number(at["y_mm"]) + "," + number(at["angle_deg"]),
                                "--board-height",
                                number(at["height_mm"]),
                                "-o",
                                (work / "camera.json").string()};
  for (const json& mark : board["witness_mm"]) {
    pose.insert(pose.end(), {"--witness", number(mark[0]) + "," + number(mark[1])});
  }
  run_well(pose, work / "pose.log");
}

// What `check` makes of a scene. Made once for all tests, and so is each camera.
struct Outcome {
  int status = -1;
  std::string said;
  json report;  // null if none was written
};
const Outcome& outcome_of(const fs::path& scene) {
  static std::map<std::string, TemporaryFolder> cameras;
  static std::map<fs::path, Outcome> known;
  const auto before = known.find(scene);
  if (before != known.end()) return before->second;
  const std::string camera = read_json(scene / "truth.json")["camera"];
  const bool first = !cameras.contains(camera);
  const TemporaryFolder& calibration = cameras[camera];
  if (first) calibrate(camera, calibration.path());
  const TemporaryFolder work;
  Outcome outcome;
  outcome.status = run({"check", (scene / "photo.jpg").string(), "--camera", (calibration / "camera.json").string(),
                        "--fixture", (scene / "fixture.json").string(), "-o", (work / "out").string()},
                       work / "check.log");
  outcome.said = text_of(work / "check.log");
  const fs::path report = work / "out" / "report.json";
  if (fs::exists(report)) outcome.report = read_json(report);
  return known[scene] = outcome;
}

double angle_between_axes(double a_deg, double b_deg) { return std::remainder(a_deg - b_deg, 180.0); }

// A found slot: its stated 95 % half-widths are 2 sigma; 3 sigma off is a false accept, and so is 0.5 mm across.
void expect_true_numbers(const json& slot, const json& truth, double axis_deg, bool is_disc) {
  const double a = axis_deg * std::numbers::pi / 180.0;
  const double dx = slot["offset_mm"][0].get<double>() - truth["offset_mm"][0].get<double>();
  const double dy = slot["offset_mm"][1].get<double>() - truth["offset_mm"][1].get<double>();
  const json& u = slot["uncertainty"];
  const double across = dy * std::cos(a) - dx * std::sin(a);
  EXPECT_LE(std::abs(across), std::min(0.5, 1.5 * u["across_mm"].get<double>())) << "across off by " << across << " mm";
  if (!u["along_mm"].is_null()) {
    const double along = dx * std::cos(a) + dy * std::sin(a);
    EXPECT_LE(std::abs(along), 1.5 * u["along_mm"].get<double>()) << "along off by " << along << " mm";
  }
  if (!is_disc) {
    const double turn = angle_between_axes(slot["rotation_deg"], truth["rotation_deg"]);
    EXPECT_LE(std::abs(turn), 1.5 * u["rotation_deg"].get<double>()) << "turn off by " << turn << " deg";
  }
}

const json& blank_of(const json& fixture, const json& slot) {
  return slot.contains("blank") ? slot["blank"] : fixture["blank"];
}

bool has_numbers(const json& slot) { return slot.contains("offset_mm") && !slot["offset_mm"].is_null(); }

class Scene : public testing::TestWithParam<fs::path> {};

TEST_P(Scene, HoldsNoFalseAccept) {
  const fs::path scene = GetParam();
  const json truth = read_json(scene / "truth.json");
  const json fixture = read_json(scene / "fixture.json");
  const auto& [status, said, report] = outcome_of(scene);
  if (truth["moved"].get<bool>()) {
    EXPECT_EQ(status, 2) << "the camera was knocked: " << said;
    EXPECT_TRUE(report.is_null());
    return;
  }
  ASSERT_TRUE(status == 0 || status == 1) << said;
  ASSERT_FALSE(report.is_null()) << said;
  ASSERT_EQ(report["slots"].size(), truth["slots"].size());
  bool all_found = true;
  for (std::size_t k = 0; k < truth["slots"].size(); ++k) {
    const json& slot = report["slots"][k];
    const json& real = truth["slots"][k];
    ASSERT_EQ(slot["id"], real["id"]);
    SCOPED_TRACE("slot " + real["id"].get<std::string>() + ", reported: " + slot.dump());
    all_found = all_found && slot["state"] == "found";
    if (real["state"] == "empty") {
      EXPECT_FALSE(has_numbers(slot)) << "numbers for an empty slot";
    } else if (real["state"] == "mismatch") {
      EXPECT_NE(slot["state"], "found") << "a wrong blank passed";
    } else if (has_numbers(slot)) {
      const json& declared = fixture["slots"][k];
      expect_true_numbers(slot, real, declared["axis_deg"], blank_of(fixture, declared)["kind"] == "disc");
    }
  }
  EXPECT_EQ(status, all_found ? 0 : 1);
}

INSTANTIATE_TEST_SUITE_P(Traced, Scene, testing::ValuesIn(scene_folders()),
                         [](const auto& scene) { return scene.param.filename().string(); });

// What the program does today on scenes that are hard on purpose (2.6 px a mm, wood on wood, black on white in tight
// pockets): what it does not read right it must refuse, and it may refuse two in ten. Each state counts: doubtful is
// no false accept, but no help either. Nine in ten is what it owes: raise this as it comes nearer.
TEST(Scenes, AreReadRightInEightSlotsOfTen) {
  int slots = 0;
  int right = 0;
  std::string wrong;
  for (const fs::path& scene : scene_folders()) {
    const json truth = read_json(scene / "truth.json");
    if (truth["moved"].get<bool>()) continue;
    const auto& [status, said, report] = outcome_of(scene);
    const bool reported = status == 0 || status == 1;
    for (std::size_t k = 0; k < truth["slots"].size(); ++k) {
      const std::string state = reported ? report["slots"][k]["state"].get<std::string>() : "refused";
      const json& real = truth["slots"][k];
      ++slots;
      if (state == real["state"]) {
        ++right;
      } else {
        wrong += scene.filename().string() + ", slot " + real["id"].get<std::string>() + ": " +
                 real["state"].get<std::string>() + " read as " + state + "\n";
      }
    }
  }
  ASSERT_GT(slots, 0);
  EXPECT_GE(10 * right, 8 * slots) << right << " of " << slots << " slots read right:\n" << wrong;
}

TEST(Scenes, AreThere) { EXPECT_GE(scene_folders().size(), 10U); }

}  // namespace
}  // namespace jigtrue::test
