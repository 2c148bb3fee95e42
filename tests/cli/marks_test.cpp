// What marks do from the command line, on traced photos whose truth is known: a camera that was knocked, a jig that
// stands askew, a photo that locates itself, and the record of many checks.
#include "cli/demo_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/geometry/types.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

Vector2d place(const nlohmann::json& pair) { return {pair[0].get<double>(), pair[1].get<double>()}; }

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

// Five more loads as the record's last, blanks a few hundredths of a millimetre elsewhere each time: invented, as the
// same photo again would be the same load.
void add_five_like_it(const std::string& record) {
  const std::string text = read_text_file(record);
  const std::string last = text.substr(text.rfind('{', text.rfind("\"schema\"")));
  for (int i = 1; i <= 5; ++i) {
    nlohmann::json load = nlohmann::json::parse(last);
    load["digest"] = "invented " + std::to_string(i);
    for (nlohmann::json& slot : load["slots"])
      if (slot.contains("across_mm"))
        for (const auto& [name, by] : {std::pair("across_mm", 0.03), std::pair("along_mm", 0.1)})
          slot[name] = slot[name].get<double>() + (i % 2 == 0 ? by : -by) * i;
    std::ofstream(record, std::ios::app) << load.dump() << "\n";
  }
}

TEST(Marks, ChecksAreRecordedShownAndSettled) {
  const TemporaryFolder folder;
  const std::string record = (folder / "loads").string();
  std::ofstream(record) << "{\"half a line";
  ASSERT_LE(command({"check", photo("marked"), "--camera", four_marks_camera(), "--fixture", fixture("marked"),
                     "--record", record, "-o", (folder / "out").string()})
                .status,
            1);
  add_five_like_it(record);
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

// A record torn in the middle of a line, or full of what no one wrote: the check adds its line all the same.
TEST(Marks, ADamagedRecordNeverBlocksACheck) {
  const TemporaryFolder folder;
  const std::string record = (folder / "loads").string();
  std::string bytes;
  for (int i = 0; i < 3000; ++i) bytes.push_back(static_cast<char>((i * 91 + 7) % 256));
  for (const std::string& before : {std::string(), bytes, std::string("{\"schema\":\"jigtrue.load/1\",\"ti")}) {
    std::ofstream(record, std::ios::binary) << before;
    const auto run = command({"check", photo("marked"), "--camera", four_marks_camera(), "--fixture", fixture("marked"),
                              "--record", record, "-o", (folder / "out").string()});
    ASSERT_LE(run.status, 1) << run.err;
    EXPECT_TRUE(run.err.empty()) << run.err;
    EXPECT_EQ(read_text_file(record).substr(0, before.size()), before) << "what stood there was changed";
    const auto trend = command({"trend", "--record", record});
    EXPECT_EQ(trend.status, 0) << trend.err;
    EXPECT_NE(trend.out.find("1 load, "), std::string::npos) << trend.out;
  }
  const auto over = command({"check", photo("marked"), "--camera", four_marks_camera(), "--fixture", fixture("marked"),
                             "--record", fixture("marked"), "-o", (folder / "out").string()});
  EXPECT_EQ(over.status, 2);
  EXPECT_NE(over.err.find("would write over it"), std::string::npos) << over.err;
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

// A machine whose X axis is 0.4 % long and whose axes lean by 0.2 degrees: to land at `bed` it must be told this. What
// it does is taken about the middle of the bed; shift, turn and common scale go into the camera's place.
Vector2d told(const Vector2d& bed) {
  Matrix2d burned;
  burned << 1.002, -rad_from_deg(0.2), 0.0, 0.998;
  const Vector2d middle(150.0, 200.0);
  return middle + burned.inverse() * (bed - middle);
}

// The traced photo's bed marks and those of its jig, as if that machine had burned them all.
std::string marks_burned_by_it() {
  const auto truth = json_of(scene("marked") / "truth.json")["fixture_shift"];
  const auto nominal = json_of(fixture("marked"));
  Vector2d centre = Vector2d::Zero();
  for (const auto& slot : nominal["slots"])
    centre += place(slot["centre_mm"]) / static_cast<double>(nominal["slots"].size());
  const Eigen::Rotation2Dd turn(rad_from_deg(truth["turn_deg"].get<double>()));
  nlohmann::json file = {{"schema", "jigtrue.marks/1"}, {"marks_mm", nlohmann::json::array()}};
  const auto add = [&](const Vector2d& bed, double height) {
    const Vector2d c = told(bed);
    file["marks_mm"].push_back({c.x(), c.y(), height});
  };
  for (const Vector2d& bed : {Vector2d(12, 12), Vector2d(288, 12), Vector2d(12, 388), Vector2d(288, 388)})
    add(bed, 0.0);
  for (const auto& mark : nominal["marks_mm"])
    add(centre + place(truth["shift_mm"]) + turn * (Vector2d(mark[0], mark[1]) - centre), mark[2]);
  return file.dump();
}

TEST(Marks, TellTheMachineWhatToBurn) {
  const TemporaryFolder folder;
  std::ofstream(folder / "marks.json") << marks_burned_by_it();
  const std::string camera = (folder / "camera.json").string();
  const auto posed = command({"pose", photo("marked"), "--lens", calibration().lens(), "--marks",
                              (folder / "marks.json").string(), "--photo-top", "right", "-o", camera});
  ASSERT_EQ(posed.status, 0) << posed.err;
  EXPECT_NE(posed.out.find("angle from X to Y less 90"), std::string::npos) << posed.out;
  const auto checked = [&](const std::string& name, std::vector<std::string> more) {
    std::vector<std::string> arguments{"check",     photo("marked"),   "--camera", camera,
                                       "--fixture", fixture("marked"), "-o",       (folder / name).string()};
    arguments.insert(arguments.end(), more.begin(), more.end());
    auto run = command(arguments);
    EXPECT_LE(run.status, 1) << run.err;
    return run;
  };
  (void)checked("plain", {});
  const auto said = checked("applied", {"--apply-machine"});
  EXPECT_NE(said.out.find("machine: The machine's own errors were applied"), std::string::npos) << said.out;
  const auto plain = json_of(folder / "plain/report.json");
  const auto applied = json_of(folder / "applied/report.json");
  EXPECT_FALSE(plain["machine"]["applied"].get<bool>());
  EXPECT_NE(plain["notes"].dump().find("--apply-machine"), std::string::npos) << plain["notes"];
  EXPECT_TRUE(applied["machine"]["applied"].get<bool>());
  EXPECT_NEAR(applied["machine"]["scale_x_less_y"]["value"].get<double>(), 0.004,
              applied["machine"]["scale_x_less_y"]["u95"].get<double>());
  EXPECT_NE(read_text_file(folder / "applied/report.html").find("Corrected for the machine."), std::string::npos);
  EXPECT_EQ(read_text_file(folder / "plain/report.html").find("Corrected for the machine."), std::string::npos);
  EXPECT_NE(read_text_file(folder / "applied/layout.svg").find("corrected for the machine"), std::string::npos);
  const auto truth = json_of(scene("marked") / "truth.json");
  double left_alone = 0.0;
  double largest = 0.0;
  for (std::size_t i = 0; i < truth["slots"].size(); ++i) {
    const auto& got = applied["slots"][i];
    ASSERT_FALSE(got["centre_mm"].is_null()) << i;
    const Vector2d want = told(place(truth["slots"][i]["centre_mm"]));
    left_alone = std::max(left_alone, (place(plain["slots"][i]["centre_mm"]) - want).norm());
    largest = std::max(largest, (place(got["centre_mm"]) - want).norm());
    // the report keeps four decimals of each
    EXPECT_LE((place(got["centre_mm"]) - place(got["machine_correction_mm"]) - place(plain["slots"][i]["centre_mm"]))
                  .cwiseAbs()
                  .maxCoeff(),
              0.00016)
        << i;
    const double heading = rad_from_deg(got["axis_deg"].get<double>());
    const Vector2d across(-std::sin(heading), std::cos(heading));
    EXPECT_LE(std::abs(across.dot(place(got["centre_mm"]) - want)), 1.5 * got["uncertainty"]["across_mm"].get<double>())
        << i;
  }
  std::printf("left alone up to %.3f mm off, applied %.3f mm\n", left_alone, largest);
  EXPECT_LT(largest, 0.15);

  // placing from the plain report with the option is the same as checking with it; a second time changes nothing
  const auto placing = [&](const std::string& from, const std::string& to, std::vector<std::string> more) {
    std::vector<std::string> arguments{"place",    (folder / from / "report.json").string(),
                                       "--design", (demo() / "pens/name.svg").string(),
                                       "-o",       (folder / to).string()};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const auto run = command(arguments);
    EXPECT_LE(run.status, 1) << run.err;
    return json_of(folder / to / "placement.json");
  };
  const auto from_plain = placing("plain", "p1", {"--apply-machine"});
  const auto from_applied = placing("applied", "p2", {});
  const auto twice = placing("applied", "p3", {"--apply-machine"});
  EXPECT_TRUE(from_plain["machine_applied"].get<bool>());
  for (std::size_t i = 0; i < from_plain["slots"].size(); ++i) {
    EXPECT_EQ(from_applied["slots"][i]["centre_mm"], twice["slots"][i]["centre_mm"]);
    if (!from_plain["slots"][i]["placed"].get<bool>()) continue;
    // report.json keeps 0.0001 mm, placements 0.001
    EXPECT_LE((place(from_plain["slots"][i]["centre_mm"]) - place(from_applied["slots"][i]["centre_mm"])).norm(),
              0.0015);
  }
}

TEST(Marks, ApplyNothingWhereNothingIsKnownOfTheMachine) {
  const TemporaryFolder folder;
  const auto refused = [&](const std::vector<std::string>& arguments, const std::string& says) {
    const auto run = command(arguments);
    EXPECT_EQ(run.status, 2);
    EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
    EXPECT_NE(run.err.find(says), std::string::npos) << run.err;
  };
  const std::string out = (folder / "out").string();
  refused({"check", photo("marked"), "--camera", four_marks_camera(), "--fixture", fixture("marked"), "--apply-machine",
           "-o", out},
          "nothing about the machine, so --apply-machine has nothing to apply; make it with pose --marks");
  refused({"check", photo("marked"), "--self-locate", "--lens", calibration().lens(), "--fixture", fixture("marked"),
           "--apply-machine", "-o", out},
          "--self-locate has none");
  ASSERT_LE(command({"check", photo("marked"), "--camera", four_marks_camera(), "--fixture", fixture("marked"), "-o",
                     (folder / "plain").string()})
                .status,
            1);
  refused({"place", (folder / "plain/report.json").string(), "--design", (demo() / "pens/name.svg").string(),
           "--apply-machine", "-o", out},
          "nothing about the machine");
  EXPECT_FALSE(std::filesystem::exists(out));
}

// Bad marks: each refused in one line that names the cause, at the file or the photo that has it, and the remedy.
TEST(Marks, OfAnotherBedAreRefusedByName) {
  const TemporaryFolder folder;
  const auto refused = [&](const std::string& marks, const std::string& says, const std::string& remedy) {
    std::ofstream(folder / "marks.json") << R"({"schema": "jigtrue.marks/1", "marks_mm": )" << marks << "}";
    const auto run =
        command({"pose", photo("marked"), "--lens", calibration().lens(), "--marks", (folder / "marks.json").string(),
                 "--photo-top", "right", "-o", (folder / "camera.json").string()});
    EXPECT_EQ(run.status, 2) << run.out;
    EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
    EXPECT_NE(run.err.find(says), std::string::npos) << run.err;
    EXPECT_NE(run.err.find(remedy), std::string::npos) << run.err;
    EXPECT_FALSE(std::filesystem::exists(folder / "camera.json"));
  };
  refused("[[12,12,0],[200,30,0],[40,250,0],[180,210,0],[90,120,0]]", "for another sheet, fixture or bed",
          "the marks file that it was burned by");
  refused("[[12,12,0],[288,12,0],[12,388,0],[12,388,4]]", "one place, two heights", "list each mark");
  refused("[[12,12,0],[288,12,0],[12,388,0],[12,388,0]]", "repeats mark 3", "list each mark");
  refused("[[12,12,0],[150,12,0],[288,12,0],[12,388,0]]", "no three lie in one line", "list each mark");
  refused("[[12,12,0],[288,12,0],[2000,388,0],[2000,2000,0]]", "marks", "show the whole sheet");
}

}  // namespace
}  // namespace jigtrue::test
