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
