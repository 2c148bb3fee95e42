#include "cli/command_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <fstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

TEST(TargetCommand, WritesTheBoardByTheFilesEnding) {
  const TemporaryFolder folder;
  const std::string pdf = (folder / "board.pdf").string();
  const std::string svg = (folder / "board.SVG").string();
  const CommandResult first = command({"target", "--board", "10x7x25", "--sheet", "A4", "-o", pdf});
  EXPECT_EQ(first.status, 0) << first.err;
  EXPECT_NE(first.out.find("100 %"), std::string::npos);
  EXPECT_EQ(read_text_file(pdf).rfind("%PDF-", 0), 0u);
  EXPECT_EQ(command({"target", "--board", "10x7x20", "--sheet", "letter", "--landscape", "-o", svg}).status, 0);
  EXPECT_NE(read_text_file(svg).find("width=\"279.4mm\""), std::string::npos);
}

TEST(TargetCommand, WritesMarksToBurnWithTheirPlaces) {
  const TemporaryFolder folder;
  const std::string svg = (folder / "burn.svg").string();
  const CommandResult burn = command({"target", "--burn", "40,50", "360,50", "--burn", "200,250", "--grid", "2x1",
                                      "--area", "20,100,380,200", "--bed", "400x300", "--height", "3", "-o", svg});
  ASSERT_EQ(burn.status, 0) << burn.err;
  const auto marks = json_of(folder / "marks.json");
  ASSERT_EQ(marks["marks_mm"].size(), 5u);
  EXPECT_EQ(marks["marks_mm"][1], (nlohmann::json{360.0, 50.0, 3.0}));
  EXPECT_EQ(marks["marks_mm"][3], (nlohmann::json{28.0, 150.0, 3.0}));
  EXPECT_NE(read_text_file(svg).find("viewBox=\"0 0 400 300\""), std::string::npos);
  const CommandResult few = command({"target", "--burn", "40,50", "--bed", "400x300", "-o", svg});
  EXPECT_NE(few.out.find("at least four"), std::string::npos);
}

// What lies ready in calib/ is what the program makes today.
TEST(TargetCommand, MadeWhatLiesReady) {
  const std::filesystem::path calib = std::filesystem::path(JIGTRUE_SOURCE_DIR) / "calib";
  const TemporaryFolder folder;
  using Arguments = std::vector<std::string>;
  const Arguments board_a4{"--board", "10x7x25", "--sheet", "a4"};
  const Arguments board_letter{"--board", "10x7x25", "--sheet", "letter"};
  const Arguments board_a3{"--board", "10x7x35", "--sheet", "a3"};
  const Arguments marks_a4{"--marks", "--sheet", "a4"};
  const Arguments marks_letter{"--marks", "--sheet", "letter"};
  const Arguments burn{"--grid", "4x3", "--area", "20,20,380,280", "--bed", "400x300", "--height", "3"};
  struct Ready {
    std::string file;
    Arguments arguments;
  };
  const std::vector<Ready> all = {{"board-10x7x25-a4.pdf", board_a4},
                                  {"board-10x7x25-a4.svg", board_a4},
                                  {"board-10x7x25-letter.pdf", board_letter},
                                  {"board-10x7x25-letter.svg", board_letter},
                                  {"board-10x7x35-a3.pdf", board_a3},
                                  {"board-10x7x35-a3.svg", board_a3},
                                  {"marks-a4.pdf", marks_a4},
                                  {"marks-a4.svg", marks_a4},
                                  {"marks-letter.pdf", marks_letter},
                                  {"burn-400x300/burn.svg", burn}};
  std::filesystem::create_directory(folder / "burn-400x300");
  for (const Ready& ready : all) {
    const std::filesystem::path made = folder / ready.file;
    std::vector<std::string> arguments{"target"};
    arguments.insert(arguments.end(), ready.arguments.begin(), ready.arguments.end());
    arguments.insert(arguments.end(), {"-o", made.string()});
    const CommandResult target = command(arguments);
    ASSERT_EQ(target.status, 0) << target.err;
    EXPECT_EQ(read_text_file(made), read_text_file(calib / ready.file)) << ready.file;
  }
  EXPECT_EQ(read_text_file(folder / "burn-400x300/marks.json"), read_text_file(calib / "burn-400x300/marks.json"));
}

TEST(TargetCommand, MachineFileGivesTheBed) {
  const TemporaryFolder folder;
  const std::string machine = (folder / "machine.json").string();
  std::ofstream(machine) << R"({"schema": "jigtrue.machine/1", "bed_mm": [300, 200], "origin_corner": "back-left"})";
  const std::string svg = (folder / "burn.svg").string();
  const CommandResult burn = command({"target", "--burn", "40,-50", "--machine", machine, "-o", svg});
  ASSERT_EQ(burn.status, 0) << burn.err;
  EXPECT_NE(read_text_file(svg).find("<rect x=\"32\" y=\"50\" width=\"8\" height=\"8\"/>"), std::string::npos);
}

constexpr const char* kRods =
    R"({ "schema": "jigtrue.fixture/1", // our rods
  "blank": { "kind": "round", "diameter_mm": 11, "length_mm": 120 }, "seat": { "floor_mm": 3, "top_mm": 9 } })";

TEST(TargetCommand, AJigComesWithTheFileThatMeasuresIt) {
  const TemporaryFolder folder;
  const auto at = [&](const char* name) { return (folder / name).string(); };
  std::ofstream(at("rods.json")) << kRods;
  const CommandResult made = command(
      {"target", "--jig", at("rods.json"), "--rows", "4", "--pitch", "20", "--bed", "400x300", "-o", at("jig.svg")});
  ASSERT_EQ(made.status, 0) << made.err;
  EXPECT_EQ(read_text_file(at("rods.json")), kRods);
  const Fixture fixture = read_fixture(read_text_file(at("jig.json")), at("jig.json"));
  ASSERT_EQ(fixture.slots.size(), 4U);
  EXPECT_EQ(fixture.slots[3].id, "4");
  EXPECT_EQ(fixture.slots[3].centre_mm, Vector2d(200, 180));
  EXPECT_EQ(fixture.marks_mm.size(), 5U);
  EXPECT_NE(read_text_file(at("jig.json")).find("// our rods"), std::string::npos);
  // a file that lacks nothing is drawn and left as it is
  const std::string once = read_text_file(at("jig.svg"));
  const CommandResult again = command({"target", "--jig", at("jig.json"), "--bed", "400x300", "-o", at("again.svg")});
  ASSERT_EQ(again.status, 0) << again.err;
  EXPECT_EQ(read_text_file(at("again.svg")), once);
  EXPECT_FALSE(std::filesystem::exists(at("again.json")));
}

TEST(TargetCommand, RefusesInOneLineAndWritesNothing) {
  const TemporaryFolder folder;
  const TemporaryFolder beside;
  const auto at = [&](const char* name) { return (folder / name).string(); };
  const std::string rods = (beside / "rods.json").string();
  std::ofstream(rods) << kRods;
  const auto jig = [&](std::vector<std::string> more) {
    more.insert(more.begin(), {"target", "--jig", rods, "-o", at("x.svg")});
    return more;
  };
  const std::vector<std::pair<std::vector<std::string>, std::string>> cases = {
      {{"target", "-o", at("x.pdf")}, "nothing to draw"},
      {{"target", "--board", "10x7x25", "--marks", "-o", at("x.pdf")}, "one kind"},
      {{"target", "--board", "10x7x25", "-o", at("x.png")}, "ending"},
      {{"target", "--board", "10x8x25", "-o", at("x.pdf")}, "--board 10x8x25"},
      {{"target", "--board", "10x7x40", "-o", at("x.pdf")}, "largest square"},
      {{"target", "--board", "10x7x25", "--sheet", "b5", "-o", at("x.pdf")}, "a4, a3 or letter"},
      {{"target", "--board", "10x7x25", "--portrait", "--landscape", "-o", at("x.pdf")}, "landscape"},
      {{"target", "--marks", "--field", "99", "-o", at("x.pdf")}, "--field"},
      {{"target", "--burn", "40,50", "--bed", "400x300", "-o", at("x.pdf")}, ".svg"},
      {{"target", "--burn", "40,50", "-o", at("x.svg")}, "--bed"},
      {{"target", "--burn", "40,50", "--bed", "400x0", "-o", at("x.svg")}, "--bed"},
      {{"target", "--burn", "40,5", "--bed", "400x300", "-o", at("x.svg")}, "beyond the bed"},
      {{"target", "--burn", "40", "--bed", "400x300", "-o", at("x.svg")}, "--burn"},
      {{"target", "--grid", "4x3", "--bed", "400x300", "-o", at("x.svg")}, "--area"},
      {{"target", "--grid", "4x2.5", "--area", "0,0,400,300", "--bed", "400x300", "-o", at("x.svg")}, "whole numbers"},
      {{"target", "--burn", "40,50", "--bed", "400x300", "--height", "900", "-o", at("x.svg")}, "--height"},
      {jig({"--bed", "400x300"}), "--rows 5 --pitch 24"},
      {jig({"--rows", "3", "--bed", "400x300"}), "--pitch"},
      {jig({"--rows", "3", "--pitch", "20"}), "--bed"},
      {jig({"--rows", "3", "--pitch", "20", "--bed", "100x100"}), "beyond the bed"},
      {jig({"--rows", "3", "--pitch", "11.5", "--bed", "400x300"}), "overlap by 0.1 mm"},
      {jig({"--rows", "0", "--pitch", "20", "--bed", "400x300"}), "--rows"},
      {jig({"--marks"}), "one kind"},
      {{"target", "--jig", rods, "--rows", "3", "--pitch", "20", "--bed", "400x300", "-o", at("x.pdf")}, "SVG"},
  };
  for (const auto& [arguments, expected] : cases) {
    const CommandResult refused = command(arguments);
    EXPECT_EQ(refused.status, 2) << expected;
    EXPECT_NE(refused.err.find(expected), std::string::npos) << refused.err;
    EXPECT_EQ(std::count(refused.err.begin(), refused.err.end(), '\n'), 1) << refused.err;
    EXPECT_EQ(files_in(folder.path()), 0u) << expected;
  }
}

}  // namespace
}  // namespace jigtrue::test
