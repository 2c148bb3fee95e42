// The demo's jig, scouted from its photo: traced by POV-Ray, an independent renderer, which wrote down where the pens
// lie.
#include "cli/demo_run.hpp"
#include "jigtrue/fixture/fixture.hpp"

#include <algorithm>
#include <cmath>
#include <fstream>

#include <gtest/gtest.h>

namespace jigtrue::test {
namespace {

TEST(Scout, FindsTheDemosPensAndOffersTheGap) {
  const TemporaryFolder folder;
  const std::string written = (folder / "fixture.json").string();
  const CommandResult run = command({"scout", DemoCalibration::photo(), "--camera", calibration().camera(), "--like",
                                     DemoCalibration::fixture(), "-o", written});
  ASSERT_EQ(run.status, 1) << run.err;  // slot 5 is a gap
  const Fixture fixture = read_fixture(read_text_file(written), written);
  const nlohmann::json truth = json_of(demo() / "pens/truth.json");
  ASSERT_EQ(fixture.slots.size(), 6U) << run.out;
  std::size_t pens = 0;
  for (const auto& pen : truth.at("slots")) {
    if (pen.at("state") != "found") continue;
    ++pens;
    const Vector2d centre(pen.at("centre_mm")[0], pen.at("centre_mm")[1]);
    double nearest = 1e9;
    for (const Slot& slot : fixture.slots) {
      const double axis = rad_from_deg(slot.axis_deg);
      const Vector2d designs = slot.centre_mm + slot.design->along_mm * Vector2d(std::cos(axis), std::sin(axis));
      nearest = std::min(nearest, (designs - centre).norm());
    }
    EXPECT_LT(nearest, 3.0);  // how far pens lie from their slots
  }
  EXPECT_EQ(pens, 5U);
  EXPECT_TRUE(std::filesystem::exists(folder / "scout.html"));
  EXPECT_TRUE(std::filesystem::exists(folder / "scout.jpg"));
  // what it wrote, a check takes
  const CommandResult checked =
      command({"check", DemoCalibration::photo(), "--camera", calibration().camera(), "--fixture", written, "--machine",
               (demo() / "machine.json").string(), "-o", (folder / "load").string()});
  EXPECT_EQ(checked.status, 1) << checked.err;
}

// A further load refines the file that an earlier one made: all that it was scouted from is looked at together.
TEST(Scout, AddsALoadToTheFileItWrote) {
  const TemporaryFolder folder;
  const std::string file = (folder / "fixture.json").string();
  const std::filesystem::path first = folder / "load-1.jpg";
  const std::filesystem::path second = folder / "load-2.jpg";
  for (const auto& photo : {first, second}) std::filesystem::copy_file(DemoCalibration::photo(), photo);
  const CommandResult once = command(
      {"scout", first.string(), "--camera", calibration().camera(), "--like", DemoCalibration::fixture(), "-o", file});
  ASSERT_EQ(once.status, 1) << once.err;
  const Fixture before = read_fixture(read_text_file(file), file);
  EXPECT_EQ(json_of(file).at("x_loads"), nlohmann::json({"load-1.jpg"}));
  const std::string refined = (folder / "fixture-2.json").string();
  const CommandResult twice =
      command({"scout", "--add", second.string(), "--camera", calibration().camera(), "--like", file, "-o", refined});
  ASSERT_EQ(twice.status, 1) << twice.err;
  EXPECT_EQ(json_of(refined).at("x_loads"), nlohmann::json({"load-1.jpg", "load-2.jpg"}));
  const Fixture after = read_fixture(read_text_file(refined), refined);
  ASSERT_EQ(after.slots.size(), before.slots.size());
  for (std::size_t i = 0; i < after.slots.size(); ++i)  // the same photo under another name says the same
    EXPECT_LT((after.slots[i].centre_mm - before.slots[i].centre_mm).norm(), 0.002);
}

TEST(Scout, CannotAddToAFileThatItDidNotWrite) {
  const TemporaryFolder folder;
  const CommandResult run = command({"scout", "--add", DemoCalibration::photo(), "--camera", calibration().camera(),
                                     "--like", DemoCalibration::fixture(), "-o", (folder / "fixture.json").string()});
  EXPECT_EQ(run.status, 2);
  EXPECT_NE(run.err.find("from which photos"), std::string::npos) << run.err;
  EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
  EXPECT_EQ(files_in(folder.path()), 0U);
}

TEST(Scout, WritesNothingWhereNoSuchBlankLies) {
  const TemporaryFolder folder;
  const std::string like = (folder / "like.json").string();
  std::ofstream(like)
      << R"({ "schema": "jigtrue.fixture/1", "blank": { "kind": "disc", "diameter_mm": 90, "thickness_mm": 4 },
    "seat": { "crown_mm": 9 } })";
  const CommandResult run = command({"scout", DemoCalibration::photo(), "--camera", calibration().camera(), "--like",
                                     like, "-o", (folder / "fixture.json").string()});
  EXPECT_EQ(run.status, 2);
  EXPECT_NE(run.err.find("no blank is seen"), std::string::npos) << run.err;
  EXPECT_EQ(files_in(folder.path()), 1U);
}

}  // namespace
}  // namespace jigtrue::test
