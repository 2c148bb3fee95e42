// A sheet that is bowed, or printed to two scales: told with its figure, kept, never absorbed in silence.
#include "cli/demo_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/calibration/lens_file.hpp"
#include "support/temporary_folder.hpp"

#include <fstream>

#include "calibration/synthetic.hpp"
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

// A lens file that keeps the corners of twelve photos of such a sheet, fitted as if it were flat and square.
void write_lens(const std::string& file, const synthetic::SheetFault& fault) {
  const Lens lens = synthetic::barrel_lens();
  auto scene = synthetic::make_scene(lens, 12, 0.0, 71);
  photograph_sheet(scene, lens, fault);
  std::mt19937_64 random(72);
  const synthetic::ErrorSource errors({0.05, 0.03});
  std::ofstream(file) << lens_json(fit_lens(errors.photos(scene, random)), {}, {synthetic::kBoard, "", ""});
}

class SheetShape : public testing::Test {
 protected:
  [[nodiscard]] std::string file(const std::string& name) const { return (folder_ / name).string(); }
  [[nodiscard]] CommandResult fitted_again(const synthetic::SheetFault& fault) const {
    write_lens(file("before.json"), fault);
    return command({"lens", "--refit", file("before.json"), "-o", file("lens.json")});
  }
  TemporaryFolder folder_;
};

TEST_F(SheetShape, ABowIsToldWithItsFigureAndKept) {
  const auto run = fitted_again({.bow_mm = 0.8});
  ASSERT_EQ(run.status, 0) << run.err;
  EXPECT_NE(run.out.find("The sheet is bowed by 0.8"), std::string::npos) << run.out;
  EXPECT_NE(run.out.find("towards the camera along its long side: glue it to something flat"), std::string::npos);
  EXPECT_EQ(run.out.find("The print is"), std::string::npos);
  const auto first = nlohmann::json::parse(read_text_file(file("lens.json")));
  EXPECT_NEAR(first["board_shape"]["bow_x_mm"].get<double>(), 0.8, 0.1);
  EXPECT_NE(read_text_file(file("lens.html")).find("The sheet is bowed by 0.8"), std::string::npos);
  // what lens.json says of itself, it says again
  const auto again = command({"lens", "--refit", file("lens.json"), "-o", file("again.json")});
  ASSERT_EQ(again.status, 0) << again.err;
  const auto second = nlohmann::json::parse(read_text_file(file("again.json")));
  EXPECT_NEAR(second["board_shape"]["bow_x_mm"].get<double>(), first["board_shape"]["bow_x_mm"].get<double>(), 1e-3);
}

TEST_F(SheetShape, APrintOfTwoScalesIsToldWithItsFigure) {
  const auto run = fitted_again({.long_side_short = 0.004});
  ASSERT_EQ(run.status, 0) << run.err;
  EXPECT_NE(run.out.find("The print is 0.4"), std::string::npos) << run.out;
  EXPECT_NE(run.out.find("short along its long side, as against its short one: measure both"), std::string::npos);
  EXPECT_EQ(run.out.find("bowed"), std::string::npos);
}

TEST_F(SheetShape, AFlatAndSquareSheetIsLeftAlone) {
  const auto run = fitted_again({});
  ASSERT_EQ(run.status, 0) << run.err;
  for (const std::string& out : {run.out, calibration().lens_run.out}) {
    EXPECT_EQ(out.find("bowed"), std::string::npos) << out;
    EXPECT_EQ(out.find("The print is"), std::string::npos) << out;
  }
  EXPECT_FALSE(nlohmann::json::parse(read_text_file(file("lens.json"))).contains("board_shape"));
}

}  // namespace
}  // namespace jigtrue::test
