// What a command reads it never writes over, by whatever name or link the output leads there.
#include "cli/command_run.hpp"
#include "jigtrue/report/report_json.hpp"
#include "support/sample_result.hpp"
#include "support/temporary_folder.hpp"

#include <fstream>

#include <gtest/gtest.h>

namespace jigtrue::test {
namespace {

class InputsKept : public testing::Test {
 protected:
  void SetUp() override {
    for (const char* name : {"a.jpg", "b.jpg", "lens.json", "camera.json", "fixture.json", "loads.jsonl",
                             "machine.json", "marks.json", "art.svg"})
      write(name, kBefore);
  }
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(folder / name, std::ios::binary) << text;
  }
  [[nodiscard]] std::string path(const std::string& name) const { return (folder / name).string(); }

  // The guard speaks before anything is read, so what the files hold does not matter.
  void kept(const std::vector<std::string>& arguments, const std::string& name) const {
    const std::string before = read_text_file(folder / name);
    const CommandResult run = command(arguments);
    EXPECT_EQ(run.status, 2);
    EXPECT_NE(run.err.find("would write over it"), std::string::npos) << run.err;
    EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
    EXPECT_EQ(read_text_file(folder / name), before);
  }

  TemporaryFolder folder;
  static constexpr const char* kBefore = "what stood here before";
};

TEST_F(InputsKept, ByLens) {
  kept({"lens", path("a.jpg"), path("b.jpg"), "--board", "10x7x20", "-o", path("b.jpg")}, "b.jpg");
  kept({"lens", "--refit", path("lens.json"), "-o", path("lens.json")}, "lens.json");
  // the page that goes beside the file
  write("photo.html", kBefore);
  kept({"lens", path("photo.html"), "--board", "10x7x20", "-o", path("photo.json")}, "photo.html");
}

TEST_F(InputsKept, ByPose) {
  const std::vector<std::string> board = {"--board", "10x7x20", "--board-at", "78,302,-88"};
  for (const std::string& name : {std::string("lens.json"), std::string("a.jpg"), std::string("b.jpg")}) {
    std::vector<std::string> arguments = {"pose", path("a.jpg"), path("b.jpg"), "--lens", path("lens.json")};
    arguments.insert(arguments.end(), board.begin(), board.end());
    arguments.insert(arguments.end(), {"-o", path(name)});
    kept(arguments, name);
  }
  kept({"pose", path("a.jpg"), "--lens", path("lens.json"), "--marks", path("marks.json"), "-o", path("marks.json")},
       "marks.json");
  kept({"pose", "--refit", path("camera.json"), "-o", path("camera.json")}, "camera.json");
}

TEST_F(InputsKept, ByCheck) {
  std::filesystem::create_directory(folder / "out");
  write("out/annotated.jpg", kBefore);
  const auto check = [&](const std::string& photo, const std::vector<std::string>& more) {
    std::vector<std::string> arguments = {"check",     path(photo),         "--camera", path("camera.json"),
                                          "--fixture", path("fixture.json")};
    arguments.insert(arguments.end(), more.begin(), more.end());
    arguments.insert(arguments.end(), {"-o", path("out")});
    return arguments;
  };
  kept(check("a.jpg", {"--show-move", path("a.jpg")}), "a.jpg");
  kept(check("a.jpg", {"--show-move", path("camera.json")}), "camera.json");
  kept(check("a.jpg", {"--record", path("fixture.json")}), "fixture.json");
  kept(check("a.jpg", {"--machine", path("machine.json"), "--record", path("machine.json")}), "machine.json");
  kept(check("out/annotated.jpg", {}), "out/annotated.jpg");
  write("beam.json", kBefore);
  kept(check("a.jpg", {"--apply-beam", path("beam.json"), "--record", path("beam.json")}), "beam.json");
  // the record grows; a picture must not take its place
  const CommandResult twice =
      command(check("a.jpg", {"--record", path("loads.jsonl"), "--show-move", path("loads.jsonl")}));
  EXPECT_NE(twice.err.find("two results"), std::string::npos) << twice.err;
  EXPECT_EQ(read_text_file(folder / "loads.jsonl"), kBefore);
}

TEST_F(InputsKept, ByScoutAndInspect) {
  for (const std::string& name : {std::string("camera.json"), std::string("fixture.json")})
    kept({"scout", path("a.jpg"), "--camera", path("camera.json"), "--like", path("fixture.json"), "-o", path(name)},
         name);
  kept({"scout", "--add", path("a.jpg"), "--camera", path("camera.json"), "--like", path("fixture.json"), "-o",
        path("fixture.json")},
       "fixture.json");
  std::filesystem::create_directory(folder / "out");
  write("out/annotated.jpg", kBefore);
  const auto inspect = [&](const std::string& photo, const std::string& option, const std::string& value) {
    return std::vector<std::string>{"inspect",  path(photo),         "--camera", path("camera.json"),
                                    "--report", path("report.json"), option,     path(value),
                                    "-o",       path("out")};
  };
  write("report.json", kBefore);
  kept(inspect("out/annotated.jpg", "--record", "loads.jsonl"), "out/annotated.jpg");
  kept(inspect("a.jpg", "--record", "report.json"), "report.json");
  kept(inspect("a.jpg", "--show-move", "a.jpg"), "a.jpg");
  EXPECT_NE(command(inspect("a.jpg", "--record", "out/inspection.json")).err.find("two results"), std::string::npos);
}

// The jig's file goes beside its drawing, under the same name.
TEST_F(InputsKept, ByAJigsDrawing) {
  write("rods.json", R"({ "schema": "jigtrue.fixture/1", "machine": "bed.json",
    "blank": { "kind": "round", "diameter_mm": 11, "length_mm": 138 }, "seat": { "floor_mm": 0, "top_mm": 3 } })");
  write("bed.json", R"({"schema": "jigtrue.machine/1", "bed_mm": [400, 300], "origin_corner": "front-left"})");
  const auto jig = [&](const std::string& output) {
    return std::vector<std::string>{"target", "--jig", path("rods.json"), "--rows", "4", "--pitch",
                                    "20",     "-o",    path(output)};
  };
  kept(jig("rods.svg"), "rods.json");
  kept(jig("bed.svg"), "bed.json");
  EXPECT_FALSE(std::filesystem::exists(folder / "rods.svg"));
  EXPECT_EQ(command(jig("made.svg")).status, 0);
}

TEST_F(InputsKept, ByPlaceTargetTrendAndSettle) {
  std::filesystem::create_directory(folder / "out");
  write("report.json", report_json(sample_result(), {"2024-05-01T12:00:00Z", "0.1.0", std::nullopt}));
  const std::string art = R"x(<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="10mm" viewBox="0 0 60 10">
<rect x="5" y="3" width="50" height="2"/></svg>)x";
  write("out/layout.svg", art);
  kept({"place", path("report.json"), "--design", path("out/layout.svg"), "-o", path("out")}, "out/layout.svg");
  // a drawing that only the job names
  write("job.json", R"({"schema": "jigtrue.job/1", "passes": [{"name": "fill", "artwork": "out/layout.svg"}]})");
  kept({"place", path("report.json"), "--job", path("job.json"), "-o", path("out")}, "out/layout.svg");
  write("bed.svg", R"({"schema": "jigtrue.machine/1", "bed_mm": [400, 300], "origin_corner": "front-left"})");
  kept({"target", "--burn", "50,50", "--machine", path("bed.svg"), "-o", path("bed.svg")}, "bed.svg");
  write("out/trend.html", kBefore);
  kept({"trend", "--record", path("out/trend.html"), "-o", path("out")}, "out/trend.html");
  for (const std::string& name : {std::string("loads.jsonl"), std::string("fixture.json")})
    kept({"settle", "--record", path("loads.jsonl"), "--fixture", path("fixture.json"), "-o", path(name)}, name);
}

TEST_F(InputsKept, ByWhateverNameOrLink) {
  std::filesystem::create_symlink(path("lens.json"), path("link.json"));
  std::filesystem::create_hard_link(path("lens.json"), path("twin.json"));
  std::filesystem::create_directory(folder / "sub");
  for (const std::string& name :
       {std::string("link.json"), std::string("twin.json"), std::string("sub/../lens.json")}) {
    kept({"lens", "--refit", path("lens.json"), "-o", path(name)}, "lens.json");
    kept({"lens", "--refit", path(name), "-o", path("lens.json")}, "lens.json");
  }
}

TEST_F(InputsKept, WhileOtherOutputsAreWritten) {
  const CommandResult run = command({"target", "--marks", "-o", path("sheet.svg")});
  EXPECT_EQ(run.status, 0) << run.err;
}

TEST(UnknownNames, AreToldWithTheNearestKnownOne) {
  for (const auto& [arguments, says] : std::initializer_list<std::pair<std::vector<std::string>, const char*>>{
           {{"chek", "a.jpg"}, "there is no command \"chek\"; did you mean check?"},
           {{"xyzzy"}, "there is no command \"xyzzy\"; the commands are lens, pose, check"},
           {{"check", "a.jpg", "--fixtur", "f.json", "-o", "out"},
            "check has no option --fixtur; did you mean --fixture?"},
           {{"lens", "a.jpg", "--borad=10x7x20", "-o", "l.json"}, "lens has no option --borad; did you mean --board?"},
           {{"check", "a.jpg", "-camera", "c.json", "-o", "out"},
            "check has no option -camera; did you mean --camera?"},
           {{"check", "a.jpg", "--out", "out"}, "check has no option --out; did you mean --output?"},
           {{"target", "--bed-size", "400x300"}, "target has no option --bed-size; did you mean --bed?"},
           {{"trend", "--of-what"}, "trend has no option --of-what; it has --help, --record, --output"},
           {{"--versoin"}, "jigtrue has no option --versoin; did you mean --version?"},
           {{"where", "1,2", "--kamera", "c.json"}, "where has no option --kamera; did you mean --camera?"}}) {
    const CommandResult run = command(arguments);
    EXPECT_EQ(run.status, 2);
    EXPECT_NE(run.err.find(says), std::string::npos) << run.err;
    EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
  }
  // a name that is known and lacks something keeps the parser's own words
  EXPECT_NE(command({"check", "a.jpg", "-o", "out"}).err.find("--fixture is required"), std::string::npos);
}

TEST(Arguments, ThatDoNotServeAreToldWithWhatWould) {
  for (const auto& [arguments, says] : std::initializer_list<std::pair<std::vector<std::string>, const char*>>{
           {{"where", "1,2", "--camera", "c.json", "--height", "10,5"},
            "--height: \"10,5\" is not a number; write digits with a decimal point, without unit, like 12.5"},
           {{"where", "1,2", "--camera", "c.json", "--height", "10mm"}, "--height: \"10mm\" is not a number"},
           {{"check", "a.jpg", "camera.json", "--fixture", "f.json", "-o", "out"},
            "check: \"camera.json\" has no place; every file but the photo follows its option"},
           {{"lens", "a.jpg", "--board", "10x7x20"}, "lens: --output is required; see jigtrue lens --help"},
           {{"target", "--grid", "4,5x3", "--area", "20,20,380,280", "--bed", "400x300", "-o", "b.svg"},
            "without spaces, with decimal points"},
           {{}, "no command is given; see jigtrue --help"}}) {
    const CommandResult run = command(arguments);
    EXPECT_EQ(run.status, 2);
    EXPECT_NE(run.err.find(says), std::string::npos) << run.err;
    EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
  }
}

TEST(Help, ShowsTheRoundWithWitnessMarks) {
  const CommandResult run = command({"--help"});
  EXPECT_EQ(run.status, 0);
  EXPECT_NE(run.out.find("--witness"), std::string::npos) << run.out;
}

}  // namespace
}  // namespace jigtrue::test
