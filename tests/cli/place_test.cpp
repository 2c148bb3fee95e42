// Placing artwork from a report: every output says the same, in every way of giving the artwork.
#include "cli/command_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/layout/layout_svg.hpp"
#include "jigtrue/layout/placement.hpp"
#include "jigtrue/report/read_report.hpp"
#include "jigtrue/report/report_json.hpp"
#include "support/cpu_time.hpp"
#include "support/patterns.hpp"
#include "support/sample_result.hpp"
#include "support/temporary_folder.hpp"

#include <array>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <set>
#include <sstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

using nlohmann::json;

constexpr const char* kArt =
    R"x(<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="10mm" viewBox="0 0 60 10">
<rect x="5" y="3" width="50" height="4" fill="#000"/></svg>)x";
constexpr const char* kLine =
    R"x(<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="10mm" viewBox="0 0 60 10">
<path d="M6 6h20" fill="none" stroke="red" stroke-width="0.1"/></svg>)x";

class Place : public testing::Test {
 protected:
  void SetUp() override {
    write_report(Vector2d::Zero());
    write("art.svg", kArt);
    write("line.svg", kLine);
  }

  // The sample's load, its jig put down so much further on.
  void write_report(const Vector2d& by_mm) const {
    CheckResult result = sample_result();
    for (SlotResult& slot : result.slots) {
      slot.nominal_centre_mm += by_mm;
      if (!slot.numbers) continue;
      slot.numbers->centre_mm += by_mm;
      slot.room = DesignRoom{3.05, 3.05, 69, 69, 0.05, 0.2, std::nullopt, 11.0, 0.0, 0.0, "incidence"};
    }
    // the report's own number ends the fourth slot's band at 4.2 mm
    result.slots[3].room->left_mm = result.slots[3].room->right_mm = 2.15;
    write("report.json", report_json(result, {"2024-05-01T12:00:00Z", "0.1.0", std::nullopt}));
  }
  // Where the bed's front left corner lies from this origin, on a bed of 420 x 380 mm.
  static Vector2d front_left(const std::string& corner) {
    return {corner.find("right") != std::string::npos ? -420.0 : 0.0,
            corner.find("back") != std::string::npos ? -380.0 : 0.0};
  }

  void write(const std::string& name, const std::string& text) const {
    std::ofstream(folder / name, std::ios::binary) << text;
  }
  [[nodiscard]] std::string path(const std::string& name) const { return (folder / name).string(); }
  [[nodiscard]] std::string read(const std::string& name) const { return read_text_file(folder / "out" / name); }
  [[nodiscard]] json placed() const { return json::parse(read("placement.json")); }

  [[nodiscard]] CommandResult place(std::vector<std::string> arguments) const {
    arguments.insert(arguments.begin(), {"place", path("report.json")});
    arguments.insert(arguments.end(), {"-o", path("out")});
    return command(arguments);
  }

  void refused(const std::vector<std::string>& arguments, const std::string& says) const {
    const CommandResult run = place(arguments);
    EXPECT_EQ(run.status, 2);
    EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
    EXPECT_NE(run.err.find(says), std::string::npos) << run.err;
    EXPECT_FALSE(std::filesystem::exists(folder / "out")) << "something was written";
  }

  TemporaryFolder folder;
};

std::string python() {
  for (const char* name : {"/usr/bin/python3", "/usr/local/bin/python3"})
    if (std::filesystem::exists(name)) return name;
  return {};
}

TEST_F(Place, LeavesOutAndListsWhatCannotBeBurned) {
  const CommandResult run = place({"--design", path("art.svg")});
  EXPECT_EQ(run.status, 1) << run.err;
  // 3 mismatch, 5 empty, 6 doubtful, 7 not measured along; the lower artwork of 4 mm fits slot 4, where the declared
  // design did not
  EXPECT_NE(run.out.find("placed: 4 of 8"), std::string::npos) << run.out;
  const json found = placed();
  for (const json& slot : found["slots"]) {
    const std::string id = slot["id"];
    EXPECT_EQ(slot["placed"], id != "3" && id != "5" && id != "6" && id != "7") << id;
  }
  EXPECT_EQ(found["left_out"].size(), 4u);
}

// A name that is not burned must not vanish without a word.
TEST_F(Place, TellsWhichOfTheListIsNotEngraved) {
  write("list.csv", "slot,artwork\n1,art.svg\n5,line.svg\n");
  const CommandResult run = place({"--names", path("list.csv")});
  EXPECT_EQ(run.status, 1) << run.err;
  EXPECT_NE(run.out.find("left out: slot 5: empty; \"line.svg\" is not engraved"), std::string::npos) << run.out;
  EXPECT_EQ(run.out.find("art.svg\" is not engraved"), std::string::npos) << run.out;
}

TEST_F(Place, StrictRefusesInstead) {
  refused({"--design", path("art.svg"), "--strict"},
          "slot 3 (mismatch), slot 5 (empty), slot 6 (doubtful), slot 7 (its place along was not measured");
}

// Of the ready slots the farthest from the machine's zero, its frame as the layout would hold it, and what callipers
// must find: the blank is 138 long, the design 75.9 wide and at its middle.
TEST_F(Place, AProofIsOneFrameAndWhatCallipersMustFind) {
  const CommandResult run = place({"--proof"});
  ASSERT_EQ(run.status, 0) << run.err;
  EXPECT_EQ(all_matches(run.out, R"(from the frame to the blank's (?:start|end): 31\.[01] mm \(\+/- 0\.2\))").size(),
            2U)
      << run.out;
  EXPECT_NE(run.out.find("crown"), std::string::npos) << run.out;
  EXPECT_EQ(files_in(folder / "out"), 2U);
  const std::string proof = read("proof.svg");
  const std::string told = read("proof.json");
  ASSERT_EQ(place({"--layout", path("nothing.svg"), "--proof"}).status, 2);
  const CheckResult result = read_report(read_text_file(path("report.json")), "report.json");
  const SlotResult* farthest = nullptr;
  for (const SlotResult& slot : result.slots)
    if (!why_left_out(slot) &&
        (farthest == nullptr || slot.numbers->centre_mm.norm() > farthest->numbers->centre_mm.norm()))
      farthest = &slot;
  ASSERT_NE(farthest, nullptr);
  // where the layout of that report has it, on the same page
  const std::string layout = layout_svg(result);
  const std::string place_of = "<g id=\"slot-" + farthest->id + "\"[^>]*(transform=\"[^\"]*\")";
  ASSERT_FALSE(first_match(layout, place_of).empty());
  EXPECT_EQ(first_match(proof, place_of).at(1), first_match(layout, place_of).at(1));
  EXPECT_EQ(first_match(proof, "viewBox=\"[^\"]*\""), first_match(layout, "viewBox=\"[^\"]*\""));
  // what inspect takes: that slot alone, its drawing the frame that the file burns
  const auto placement = nlohmann::json::parse(told);
  EXPECT_EQ(placement["proof"], true);
  for (const auto& slot : placement["slots"]) EXPECT_EQ(slot["placed"], slot["id"] == farthest->id);
  ASSERT_EQ(placement["artwork"]["slots"].size(), 1U);
  const Artwork frame = read_artwork(placement["artwork"]["slots"][farthest->id].get<std::string>(), "frame.svg");
  const Artwork burned = read_artwork(proof, "proof.svg");
  EXPECT_NEAR(frame.ink.size().x(), 75.9 + 0.1, 1e-3);
  EXPECT_NEAR(frame.ink.size().x(), burned.ink.size().maxCoeff(), 0.3);  // there it is turned with its blank
}

TEST_F(Place, AProofNeedsAReadySlotAndNoArtwork) {
  refused({"--proof", "--design", path("art.svg")}, "--proof");
  CheckResult nothing_ready = sample_result();
  for (SlotResult& slot : nothing_ready.slots) slot.state = SlotState::empty;
  write("report.json", report_json(nothing_ready, {"2024-05-01T12:00:00Z", "0.1.0", std::nullopt}));
  refused({"--proof"}, "no slot is ready");
}

TEST_F(Place, JudgesTheArtworkItself) {
  // 6 mm of ink in a band of 6.1 less 0.1: not above; 6.05: cannot be proved; 7: does not fit
  for (const auto& [height, says] : std::initializer_list<std::pair<double, const char*>>{
           {6.05, "cannot be proved"}, {7.0, "reduce its height to 6.0 mm"}}) {
    std::ostringstream art;
    art << "<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='10mm' viewBox='0 0 60 10'><rect width='50' "
           "height='"
        << height << "'/></svg>";
    write("tall.svg", art.str());
    const CommandResult run = place({"--design", path("tall.svg")});
    EXPECT_EQ(run.status, 1);
    EXPECT_NE(run.out.find("slot 1: "), std::string::npos);
    EXPECT_NE(run.out.find(says), std::string::npos) << run.out;
    EXPECT_NE(run.out.find("placed: 0 of 8"), std::string::npos) << run.out;
  }
}

TEST_F(Place, WritesPassesInTheStatedOrderAndInRegister) {
  ASSERT_EQ(place({"--pass", "under=" + path("line.svg"), "--pass", "over=" + path("art.svg")}).status, 1);
  const std::string svg = read("layout.svg");
  EXPECT_LT(svg.find("id=\"slot-1-under\""), svg.find("id=\"slot-1-over\""));
  EXPECT_EQ(svg.find("id=\"slot-5"), std::string::npos);
  // both are moved by the middle of all ink, (30, 5): the line from (6, 6) starts at (-24, 1)
  EXPECT_NE(svg.find("M-24.0000 1.0000L-4.0000 1.0000"), std::string::npos);
  EXPECT_NE(svg.find("M-25.0000 -2.0000L25.0000 -2.0000"), std::string::npos);
  write("small.svg",
        "<svg xmlns='http://www.w3.org/2000/svg' width='50mm' height='10mm'><rect width='9' height='9'/></svg>");
  std::filesystem::remove_all(folder / "out");
  refused({"--pass", "a=" + path("art.svg"), "--pass", "b=" + path("small.svg")}, "pages of one size");
  refused({"--pass", "a=" + path("art.svg"), "--pass", "a=" + path("line.svg")}, "its name is taken");
  refused({"--pass", path("art.svg")}, "NAME=DRAWING");
}

TEST_F(Place, EstimatesTheTimeOfDeclaredPasses) {
  write("job.json", R"({ "schema": "jigtrue.job/1", "passes": [
    { "name": "fill", "artwork": "art.svg", "burn": "scan", "speed_mm_s": 100, "lines_per_cm": 50, "overscan_mm": 5 },
    { "name": "outline", "artwork": "line.svg", "burn": "trace", "speed_mm_s": 20, "times": 2 } ] })");
  const CommandResult run = place({"--job", path("job.json")});
  EXPECT_EQ(run.status, 1) << run.err;
  EXPECT_NE(run.out.find("run time: about"), std::string::npos) << run.out;
  const json time = placed()["run_time"];
  ASSERT_EQ(time["passes"].size(), 2u);
  EXPECT_EQ(time["passes"][0]["name"], "fill");
  // three level pens of about 20 lines of 60 mm each, at 100 mm/s: 36 s; slot 8 upright takes 250 lines of 14 mm: 35 s
  EXPECT_NEAR(time["passes"][0]["seconds"].get<double>(), 3 * 20 * 0.6 + 250 * 0.14, 4.0);
  write("job.json",
        R"({ "schema": "jigtrue.job/1", "passes": [ { "name": "fill", "artwork": "art.svg", "speed_mm_s": 9 } ] })");
  std::filesystem::remove_all(folder / "out");
  refused({"--job", path("job.json")}, "without burn");
}

// All four say the same place to 0.001 mm, for every corner of the machine's origin.
TEST_F(Place, SaysTheSameInEveryOutput) {
  for (const char* corner : {"front-left", "front-right", "back-left", "back-right"}) {
    write_report(front_left(corner));
    const json report = json::parse(read_text_file(folder / "report.json"));
    write("machine.json", std::string(R"({ "schema": "jigtrue.machine/1", "bed_mm": [420, 380], "origin_corner": ")") +
                              corner + "\" }");
    ASSERT_EQ(place({"--design", path("art.svg"), "--machine", path("machine.json")}).status, 1);
    const std::string svg = read("layout.svg");
    const std::string csv = read("placement.csv");
    const json out = placed();
    const std::string name = corner;
    const double left = name.find("right") != std::string::npos ? -420.0 : 0.0;
    const double front = name.find("back") != std::string::npos ? -380.0 : 0.0;
    for (std::size_t i = 0; i < report["slots"].size(); ++i) {
      if (!out["slots"][i]["placed"].get<bool>()) continue;
      const std::string id = report["slots"][i]["id"];
      const Vector2d centre(report["slots"][i]["centre_mm"][0], report["slots"][i]["centre_mm"][1]);
      const Vector2d in_json(out["slots"][i]["centre_mm"][0], out["slots"][i]["centre_mm"][1]);
      EXPECT_LT((in_json - centre).cwiseAbs().maxCoeff(), 0.0006) << id;
      const test::Match group =
          test::first_match(svg, "<g id=\"slot-" + id + "\"[^>]*translate\\(([-\\d.]+) ([-\\d.]+)\\)");
      ASSERT_FALSE(group.empty());
      EXPECT_NEAR(std::stod(group[1]) + left, in_json.x(), 1e-9);
      EXPECT_NEAR(380.0 - std::stod(group[2]) + front, in_json.y(), 1e-9);
      const test::Match line = test::first_match(csv, "(?:^|\n)" + id + ",yes,([-\\d.]+),([-\\d.]+),");
      ASSERT_FALSE(line.empty()) << csv;
      EXPECT_NEAR(std::stod(line[1]), in_json.x(), 1e-9);
      EXPECT_NEAR(std::stod(line[2]), in_json.y(), 1e-9);
    }
  }
}

// Read back by others: the DXF by ezdxf, the SVG by Python's own XML reader, the CSV by its own; every line and curve
// of all designs on the bed, for every corner of the machine's origin.
TEST_F(Place, SaysTheSameToOtherReaders) {
  if (python().empty() || std::system((python() + " -c 'import ezdxf' 2>/dev/null").c_str()) != 0)
    GTEST_SKIP() << "python3 with ezdxf (python3-ezdxf) is not installed";
  write("read.py", R"py(import csv, json, math, re, sys, ezdxf
import xml.etree.ElementTree as xml
folder, report, left, front = sys.argv[1], json.load(open(sys.argv[2])), float(sys.argv[3]), float(sys.argv[4])
doc = ezdxf.readfile(folder + "/layout.dxf")
audit = doc.audit()
svg = xml.parse(folder + "/layout.svg").getroot()
ns = "{http://www.w3.org/2000/svg}"
height = float(svg.get("height")[:-2])
assert svg.get("width").endswith("mm") and svg.get("viewBox") == "0 0 %s %s" % (svg.get("width")[:-2], svg.get("height")[:-2])
drawn = []
for group in svg.iter(ns + "g"):
    if not group.get("data-slot"): continue
    x, y, turn = map(float, re.match(r"translate\((\S+) (\S+)\) rotate\((\S+)\)$", group.get("transform")).groups())
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    def bezier(a, b, c, d, t): return tuple((1-t)**3*i + 3*(1-t)**2*t*j + 3*(1-t)*t*t*k + t**3*l for i, j, k, l in zip(a, b, c, d))
    for sub in (m for path in group.iter(ns + "path") for m in re.findall("M[^M]*", path.get("d"))):
        points = []
        for command, numbers in re.findall("([MLCZ])([^MLCZ]*)", sub):
            n = list(map(float, numbers.split()))
            p = list(zip(n[::2], n[1::2]))
            if command == "C": points += [bezier(points[-1], *p, k / 200) for k in range(1, 201)]
            elif command == "Z": points.append(points[0])
            else: points += p
        drawn.append([(x + c * u - s * v + left, height - (y + s * u + c * v) + front) for u, v in points])
lines = [[p[:2] for p in e.get_points()] + [e.get_points()[0][:2]] * e.closed for e in doc.modelspace()]
def gap(p, a, b):
    d = (b[0] - a[0], b[1] - a[1])
    t = ((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / ((d[0]**2 + d[1]**2) or 1)
    t = min(1, max(0, t))
    return math.dist(p, (a[0] + t * d[0], a[1] + t * d[1]))
def apart(points, line): return max(min(gap(p, a, b) for a, b in zip(line, line[1:])) for p in points)
differ = max(max(apart(a, b), apart(b, a), math.dist(a[0], b[0]), math.dist(a[-1], b[-1])) for a, b in zip(drawn, lines, strict=True))
rows = {r["slot"]: r for r in csv.DictReader(open(folder + "/placement.csv"))}
placed = [p for p in json.load(open(folder + "/placement.json"))["slots"] if p["placed"]]
slots = {s["id"]: s for s in report["slots"]}
centres = 0.0
each = len(lines) // len(placed)
for n, p in enumerate(placed):
    # every design here is symmetric about its centre
    held = [q for line in lines[n * each:(n + 1) * each] for q in line]
    middle = [(min(q[k] for q in held) + max(q[k] for q in held)) / 2 for k in (0, 1)]
    for other in (slots[p["id"]]["centre_mm"], p["centre_mm"],
                  [float(rows[p["id"]][k]) for k in ("centre_x_mm", "centre_y_mm")]):
        centres = max(centres, abs(middle[0] - other[0]), abs(middle[1] - other[1]))
layers = [[e.dxf.layer for e in doc.modelspace()][n * each:(n + 1) * each] for n in range(len(placed))]
json.dump({"version": doc.dxfversion, "unit": doc.units, "metric": doc.header["$MEASUREMENT"], "lines": len(lines), "layers": layers,
           "complaints": [e.message for e in audit.errors + audit.fixes], "differ_mm": differ, "centres_mm": centres,
           "closed": [e.closed for e in doc.modelspace()][:each]}, open(folder + "/read.json", "w"))
)py");
  write("curved.svg", R"(<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='10mm' viewBox='0 0 60 10'>
    <path d='M5 5C10 2 20 8 30 5S50 8 55 5' fill='none' stroke='black' stroke-width='.2'/>
    <circle cx='30' cy='5' r='1.5'/></svg>)");
  struct Case {
    std::vector<std::string> drawing;
    std::vector<std::string> layers;
    std::vector<bool> closed;
  };
  const std::vector<Case> cases = {{{"--design", path("art.svg")}, {"DESIGN"}, {true}},
                                   {{"--pass", "wave=" + path("curved.svg"), "--pass", "box=" + path("art.svg")},
                                    {"WAVE", "WAVE", "BOX"},
                                    {false, true, true}}};
  for (const char* corner : {"front-left", "front-right", "back-left", "back-right"}) {
    const std::string name = corner;
    write_report(front_left(name));
    write("machine.json",
          R"({ "schema": "jigtrue.machine/1", "bed_mm": [420, 380], "origin_corner": ")" + name + "\" }");
    for (const Case& each : cases) {
      if (each.layers.size() > 1 && name != "back-right") continue;  // curves take the reader a while
      std::vector<std::string> arguments = each.drawing;
      arguments.insert(arguments.end(), {"--machine", path("machine.json")});
      ASSERT_EQ(place(arguments).status, 1);
      const std::string command = python() + " '" + path("read.py") + "' '" + path("out") + "' '" +
                                  path("report.json") + "' " +
                                  (name.find("right") != std::string::npos ? "-420" : "0") + " " +
                                  (name.find("back") != std::string::npos ? "-380" : "0");
      ASSERT_EQ(std::system(command.c_str()), 0) << corner;
      const json said = json::parse(read("read.json"));
      EXPECT_EQ(said["version"], "AC1015");
      EXPECT_EQ(said["unit"], 4) << "not millimetres";
      EXPECT_EQ(said["metric"], 1);
      EXPECT_EQ(said["lines"], 4 * each.layers.size());
      EXPECT_EQ(said["closed"].get<std::vector<bool>>(), each.closed);
      for (const json& layers : said["layers"]) EXPECT_EQ(layers.get<std::vector<std::string>>(), each.layers);
      EXPECT_TRUE(said["complaints"].empty()) << said["complaints"];
      EXPECT_LT(said["differ_mm"].get<double>(), 0.001) << corner;
      // report.json has 0.0001 mm; the layouts' places are rounded to 0.001
      EXPECT_LT(said["centres_mm"].get<double>(), 0.001) << corner;
      std::printf("%-11s SVG and DXF differ by %.5f mm, centres by %.5f mm at most\n", corner,
                  said["differ_mm"].get<double>(), said["centres_mm"].get<double>());
    }
  }
}

TEST_F(Place, CorrectsTheUsersOwnLayout) {
  std::string job =
      "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"400mm\" height=\"400mm\" viewBox=\"0 0 400 400\">\n";
  const CheckResult result = sample_result();
  for (const SlotResult& slot : result.slots) {
    const Vector2d at(slot.nominal_centre_mm.x(), 400 - slot.nominal_centre_mm.y());
    job += "<g id=\"" + slot.id + "\" transform=\"translate(" + std::to_string(at.x()) + " " + std::to_string(at.y()) +
           ")\"><rect x=\"-5\" y=\"-1\" width=\"10\" height=\"2\"/></g>\n";
  }
  write("job.svg", job + "</svg>\n");
  const CommandResult run = place({"--layout", path("job.svg")});
  EXPECT_EQ(run.status, 1) << run.err;
  const std::string svg = read("layout.svg");
  EXPECT_EQ(svg.find("id=\"5\""), std::string::npos);
  EXPECT_NE(svg.find("id=\"1\" transform=\"matrix("), std::string::npos);
  EXPECT_FALSE(std::filesystem::exists(folder / "out" / "layout.dxf"));
  std::filesystem::remove_all(folder / "out");
  refused({"--layout", path("job.svg"), "--strict"}, "--strict");
  refused({"--layout", path("job.svg"), "--design", path("art.svg")}, "brings its artwork along");
}

TEST_F(Place, WrapsForTheCurve) {
  ASSERT_EQ(place({"--design", path("art.svg"), "--wrap"}).status, 1);
  // 2 mm of arc on R = 5.5 lie at 5.5 sin(2 / 5.5) = 1.9562 in the plan
  EXPECT_NE(read("layout.svg").find("-1.9562"), std::string::npos);
  EXPECT_NEAR(placed()["slots"][0]["design_mm"][1].get<double>(), 2 * 5.5 * std::sin(2 / 5.5), 1e-3);
}

TEST_F(Place, RefusesBadInput) {
  refused({}, "nothing to place");
  refused({"--design", path("art.svg"), "--pass", "a=" + path("art.svg")}, "more than one");
  refused({"--design", path("none.svg")}, "none.svg");
  refused({"--design", path("art.svg"), "--font", path("x.ttf")}, "without --names");
  write("text.svg", "<svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm'><text>A</text></svg>");
  refused({"--design", path("text.svg")}, "convert it to outlines");
  write("names.csv", "slot,text\n77,Anna\n");
  refused({"--names", path("names.csv"), "--font", path("x.ttf")}, "no slot 77");
  write("names.csv", "slot,text\n1,Anna\n");
  refused({"--names", path("names.csv")}, "no font");
  write("x.ttf", "no font");
  refused({"--names", path("names.csv"), "--font", path("x.ttf")}, "no TrueType");
  write("report.json", "{}");
  refused({"--design", path("art.svg")}, "schema: missing; give the report.json that jigtrue check wrote");
}

TEST_F(Place, SetsNamesOnTheirSlots) {
  const std::string font = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";
  if (!std::filesystem::exists(font)) GTEST_SKIP() << "the font DejaVu Sans (fonts-dejavu-core) is not installed";
  write("names.csv", "slot,text\n1,Ava\n2,Olga\n5,Nils\n");
  const CommandResult run = place({"--names", path("names.csv"), "--font", font});
  EXPECT_EQ(run.status, 1) << run.err;
  EXPECT_NE(run.out.find("placed: 2 of 8"), std::string::npos) << run.out;
  EXPECT_NE(run.out.find("slot 8: no artwork for it"), std::string::npos) << run.out;
  write("names.csv", "slot,text\n1,Ava\n2,A name that is far too long for any pen that was ever turned\n");
  std::filesystem::remove_all(folder / "out");
  refused({"--names", path("names.csv"), "--font", font}, "slot 2 (\"A name that is far too long");
}

// Eight pens, eight names: each on its own pen, as outlines (text would be set anew by whatever opens the file), all of
// one size, none wider than its blank.
TEST_F(Place, SetsEightNamesOnEightPens) {
  const std::string font = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";
  if (!std::filesystem::exists(font)) GTEST_SKIP() << "the font DejaVu Sans (fonts-dejavu-core) is not installed";
  CheckResult result;
  std::string names = "slot,text\n";
  const std::array<const char*, 8> texts{
      "Ava",         "Olga Brygg", "\"Nils, jun.\"",     "\u00c9milie", "\u017b\u00f3\u0142\u0107",
      "AVAT fi ffl", "Jos\u00e9",  "\"Quote \"\"Q\"\"\""};
  for (std::size_t i = 0; i < texts.size(); ++i) names += std::to_string(i + 1) + "," + texts[i] + "\n";
  for (int i = 0; i < 8; ++i) {
    result.slots.push_back(measured_slot({}, std::to_string(i + 1), {150.0, 30.0 + 20.0 * i}, {0.3, -0.2}, 0.1));
    result.slots.back().room = DesignRoom{3.05, 3.05, 69, 69, 0.05, 0.2, std::nullopt, 11.0, 0.0, 0.0, "incidence"};
  }
  write("report.json", report_json(result, {"2024-05-01T12:00:00Z", "0.1.0", std::nullopt}));
  write("names.csv", names);
  const CommandResult run = place({"--names", path("names.csv"), "--font", font});
  EXPECT_EQ(run.status, 0) << run.out << run.err;
  const std::string svg = read("layout.svg");
  EXPECT_EQ(svg.find("<text"), std::string::npos);
  const json out = placed();
  std::set<double> widths;
  for (const json& slot : out["slots"]) {
    EXPECT_TRUE(slot["placed"].get<bool>());
    widths.insert(slot["design_mm"][0].get<double>());
    EXPECT_LE(slot["design_mm"][0].get<double>(), 138.0);
    EXPECT_LE(slot["design_mm"][1].get<double>(), 6.0 + 1e-6) << "beyond the band less its uncertainty";
  }
  EXPECT_EQ(widths.size(), 8U) << "two pens carry the same name";
}

// 60 slots of a design of 2,000 nodes. The bound is loose: it tells a fault of order, not a slow machine.
TEST_F(Place, PlacesAFullBedQuickly) {
  CheckResult result;
  for (int i = 0; i < 60; ++i) {
    result.slots.push_back(measured_slot({}, std::to_string(i + 1),
                                         {150.0 + 150 * (i % 3), 20.0 + 15.0 * std::floor(i / 3.0)}, {0.3, -0.2}, 0.1));
    result.slots.back().room = DesignRoom{3.05, 3.05, 69, 69, 0.05, 0.2, std::nullopt, 11.0, 0.0, 0.0, "incidence"};
  }
  write("report.json", report_json(result, {"2024-05-01T12:00:00Z", "0.1.0", std::nullopt}));
  std::ostringstream art;
  art << "<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='10mm' viewBox='0 0 60 10'><path d='M0 5";
  for (int i = 0; i < 2000; ++i)
    art << "C" << i * 0.03 << " " << 5 + 2 * std::sin(i * 0.7) << " " << i * 0.03 + 0.01 << " "
        << 5 - 2 * std::sin(i * 0.9) << " " << (i + 1) * 0.03 << " " << 5 + 2 * std::sin(i * 1.3);
  art << "'/></svg>";
  write("art.svg", art.str());
  const double seconds = cpu_seconds([&] { EXPECT_EQ(place({"--design", path("art.svg")}).status, 0); });
  std::printf("60 slots of 2,000 nodes: %.2f s\n", seconds);
  EXPECT_LT(seconds, 30.0);
}

}  // namespace
}  // namespace jigtrue::test
