// What inspect says of photos that show no burn; burned loads are drawn in tests/inspection.
#include "cli/demo_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "support/temporary_folder.hpp"

#include <fstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

TEST(MainJob, InspectClaimsNoMarkOnPhotosFromBeforeTheBurn) {
  const TemporaryFolder folder;
  const std::string name = (demo() / "pens/name.svg").string();
  const std::string report = (folder / "load/report.json").string();
  ASSERT_EQ(command({"check", DemoCalibration::photo(), "--camera", calibration().camera(), "--fixture",
                     DemoCalibration::fixture(), "--design", name, "-o", (folder / "load").string()})
                .status,
            1);
  // the very photo that the load was laid out by
  const auto same = command({"inspect", DemoCalibration::photo(), "--camera", calibration().camera(), "--report",
                             report, "-o", (folder / "same").string()});
  EXPECT_EQ(same.status, 2);
  EXPECT_NE(same.err.find("before the burn"), std::string::npos) << same.err;
  EXPECT_FALSE(std::filesystem::exists(folder / "same/inspection.json"));
  // another load of the same jig, not burned either
  const auto other =
      command({"inspect", (demo() / "pens/photo-2.jpg").string(), "--camera", calibration().camera(), "--report",
               report, "--record", (folder / "burns.jsonl").string(), "-o", (folder / "other").string()});
  EXPECT_EQ(other.status, 1) << other.err;
  const auto inspection = json_of(folder / "other/inspection.json");
  EXPECT_EQ(inspection["schema"], "jigtrue.inspection/1");
  EXPECT_TRUE(inspection["beam"].is_null());
  for (const auto& slot : inspection["slots"]) EXPECT_NE(slot["state"], "marked") << slot["id"];
  // nothing was burned, so nothing wants another pass; the layout that says so lies there all the same
  EXPECT_EQ(read_text_file(folder / "other/again.svg").find("<g id=\"slot-"), std::string::npos);
  EXPECT_NE(read_text_file(folder / "burns.jsonl").find("jigtrue.burn/1"), std::string::npos);
  for (const char* file : {"inspection.html", "annotated.jpg"})
    EXPECT_GT(std::filesystem::file_size(folder / "other" / file), 1000U);
  // no mark, nothing to learn of the beam
  const auto apply = command({"place", report, "--design", name, "--apply-beam",
                              (folder / "other/inspection.json").string(), "-o", (folder / "placed").string()});
  EXPECT_EQ(apply.status, 2);
  EXPECT_NE(apply.err.find("no mark of this load"), std::string::npos) << apply.err;
}

}  // namespace
}  // namespace jigtrue::test
