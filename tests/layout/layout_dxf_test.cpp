#include "jigtrue/layout/layout_dxf.hpp"

#include "jigtrue/measurement/readiness.hpp"
#include "support/input_error_text.hpp"
#include "support/sample_result.hpp"

#include <cmath>
#include <set>
#include <sstream>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// A reader of its own: code and value lines, as DXF has them.
struct Line {
  std::string layer;
  bool closed = false;
  std::vector<Vector2d> points;
  std::size_t stated = 0;
};
struct Drawing {
  std::string version;
  std::string unit;
  unsigned long seed = 0;
  std::set<unsigned long> handles, owners;
  std::set<std::string> layers;
  std::vector<Line> lines;
};

Drawing read(const std::string& dxf) {
  Drawing out;
  std::istringstream in(dxf);
  std::string code_line;
  std::string value;
  std::string kind;
  std::string variable;
  std::string section;
  while (std::getline(in, code_line) && std::getline(in, value)) {
    const int code = std::stoi(code_line);
    if (code == 0) {
      kind = value;
      if (kind == "LWPOLYLINE") out.lines.emplace_back();
    } else if (code == 9) {
      variable = value;
    } else if (code == 1 && variable == "$ACADVER") {
      out.version = value;
    } else if (code == 70 && variable == "$INSUNITS") {
      out.unit = value;
      variable.clear();
    } else if (code == 5 || code == 105) {
      if (variable == "$HANDSEED")
        out.seed = std::stoul(value, nullptr, 16);
      else
        EXPECT_TRUE(out.handles.insert(std::stoul(value, nullptr, 16)).second) << "handle given twice: " << value;
      variable.clear();
    } else if (code == 330 && value != "0") {
      out.owners.insert(std::stoul(value, nullptr, 16));
    } else if (code == 2 && kind == "LAYER") {
      out.layers.insert(value);
    } else if (code == 8 && kind == "LWPOLYLINE") {
      out.lines.back().layer = value;
    } else if (code == 70 && kind == "LWPOLYLINE") {
      out.lines.back().closed = value == "1";
    } else if (code == 90 && kind == "LWPOLYLINE") {
      out.lines.back().stated = std::stoul(value);
    } else if (code == 10 && kind == "LWPOLYLINE") {
      out.lines.back().points.emplace_back(std::stod(value), 0.0);
    } else if (code == 20 && kind == "LWPOLYLINE") {
      out.lines.back().points.back().y() = std::stod(value);
    }
  }
  EXPECT_EQ(kind, "EOF");
  for (const Line& line : out.lines) EXPECT_EQ(line.stated, line.points.size());
  for (const unsigned long owner : out.owners) EXPECT_TRUE(out.handles.count(owner)) << "no such owner: " << owner;
  EXPECT_GT(out.seed, *out.handles.rbegin());
  EXPECT_EQ(out.unit, "4") << "not millimetres";
  return out;
}

TEST(LayoutDxf, PutsEveryDesignWhereTheReportSays) {
  for (const OriginCorner corner : {OriginCorner::front_left, OriginCorner::back_right}) {
    const Machine machine{{420, 380}, corner, {}};
    const CheckResult result = test::sample_result();
    const Drawing drawing = read(layout_dxf(place_designs(result, machine)));
    EXPECT_EQ(drawing.version, "AC1015");
    ASSERT_EQ(drawing.lines.size(), 3u);
    std::size_t i = 0;
    for (const SlotResult& slot : result.slots) {
      if (!is_ready(slot)) continue;
      const Line& line = drawing.lines[i++];
      ASSERT_EQ(line.points.size(), 4u);
      EXPECT_TRUE(line.closed);
      EXPECT_EQ(drawing.layers.count(line.layer), 1u);
      const double a = rad_from_deg(slot.numbers->axis_deg);
      const Vector2d along(std::cos(a), std::sin(a));
      const Vector2d across(-along.y(), along.x());
      Vector2d middle = Vector2d::Zero();
      for (const Vector2d& p : line.points) {
        middle += p / 4;
        // half a unit of the last digit of the place (0.0005 on each axis) and of the angle on a lever of 38 mm
        const Vector2d d = p - slot.numbers->centre_mm;
        EXPECT_NEAR(std::abs(d.dot(along)), slot.design->width_mm / 2, 0.001);
        EXPECT_NEAR(std::abs(d.dot(across)), slot.design->height_mm / 2, 0.001);
      }
      EXPECT_NEAR((middle - slot.numbers->centre_mm).cwiseAbs().maxCoeff(), 0.0, 0.0006) << slot.id;
    }
  }
}

TEST(LayoutDxf, KeepsPassesApartByLayersInTheirOrder) {
  InkShape shape;
  shape.fill = "black";
  SubPath path{{0, -1}, {}, true};
  path.segments.push_back({true, {2, -1}, {2, 1}, {0, 1}});
  shape.outline = {path};
  DesignArt art;
  art.common =
      std::make_shared<const std::vector<Pass>>(std::vector<Pass>{{"fill", {shape}, {}}, {"out.line 2", {shape}, {}}});
  const CheckResult result = test::sample_result();
  const Drawing drawing = read(layout_dxf(place_designs(result, std::nullopt, art)));
  EXPECT_EQ(drawing.layers, (std::set<std::string>{"0", "FILL", "OUT_LINE_2"}));
  ASSERT_EQ(drawing.lines.size(), 6u);
  EXPECT_EQ(drawing.lines[0].layer, "FILL");
  EXPECT_EQ(drawing.lines[1].layer, "OUT_LINE_2");
  // the curve bulges to 1.5 ahead of the slot's centre; a drawing's up (y less) is the bed's across
  double farthest = 0.0;
  const SlotNumbers& n = *result.slots[0].numbers;
  const double a = rad_from_deg(n.axis_deg);
  for (const Vector2d& p : drawing.lines[0].points)
    farthest = std::max(farthest, (p - n.centre_mm).dot(Vector2d(std::cos(a), std::sin(a))));
  EXPECT_NEAR(farthest, 1.5, 0.003);
  EXPECT_NEAR((drawing.lines[0].points.front() - n.centre_mm).dot(Vector2d(-std::sin(a), std::cos(a))), 1.0, 0.001);
}

TEST(LayoutDxf, RefusesMoreThanAProgramCouldOpen) {
  InkShape shape;
  SubPath path{{0, 0}, {}, false};
  for (int i = 0; i < 60'000; ++i) path.segments.push_back({true, {20, 30}, {-20, 30}, {0, 0}});
  shape.outline = {path};
  DesignArt art;
  art.common = std::make_shared<const std::vector<Pass>>(std::vector<Pass>{{"", {shape}, {}}});
  const Placement placement = place_designs(test::sample_result(), std::nullopt, art);
  const std::string text = test::input_error_text([&] { (void)layout_dxf(placement); });
  EXPECT_NE(text.find("20,000,000 points"), std::string::npos) << text;
}

TEST(LayoutDxf, KeepsPassesApartWhoseNamesWouldBecomeOne) {
  InkShape shape;
  shape.fill = "black";
  shape.outline = {SubPath{{0, -1}, {{false, {2, 1}, {2, 1}, {2, 1}}}, false}};
  DesignArt art;
  art.common = std::make_shared<const std::vector<Pass>>(std::vector<Pass>{
      {"Fill", {shape}, {}}, {"fill", {shape}, {}}, {"\u00fc", {shape}, {}}, {"\u00e9", {shape}, {}}});
  const Drawing drawing = read(layout_dxf(place_designs(test::sample_result(), std::nullopt, art)));
  EXPECT_EQ(drawing.layers.size(), 5u) << "four passes and the layer 0";
}

}  // namespace
}  // namespace jigtrue
