#include "jigtrue/layout/layout_dxf.hpp"

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
};
struct Drawing {
  std::string version;
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
      if (kind == "POLYLINE") out.lines.emplace_back();
      if (kind == "VERTEX") out.lines.back().points.emplace_back();
    } else if (code == 9) {
      variable = value;
    } else if (code == 1 && variable == "$ACADVER") {
      out.version = value;
    } else if (code == 2 && kind == "LAYER") {
      out.layers.insert(value);
    } else if (code == 8 && kind == "POLYLINE") {
      out.lines.back().layer = value;
    } else if (code == 70 && kind == "POLYLINE") {
      out.lines.back().closed = value == "1";
    } else if (code == 10 && kind == "VERTEX") {
      out.lines.back().points.back().x() = std::stod(value);
    } else if (code == 20 && kind == "VERTEX") {
      out.lines.back().points.back().y() = std::stod(value);
    }
  }
  EXPECT_EQ(kind, "EOF");
  return out;
}

TEST(LayoutDxf, PutsEveryDesignWhereTheReportSays) {
  for (const OriginCorner corner : {OriginCorner::front_left, OriginCorner::back_right}) {
    const Machine machine{{420, 380}, corner, {}};
    const CheckResult result = test::sample_result();
    const Drawing drawing = read(layout_dxf(place_designs(result, machine)));
    EXPECT_EQ(drawing.version, "AC1009");
    ASSERT_EQ(drawing.lines.size(), 4u);
    std::size_t i = 0;
    for (const SlotResult& slot : result.slots) {
      if (slot.state != SlotState::found || !slot.design_fits.value_or(true)) continue;
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
  EXPECT_EQ(drawing.layers, (std::set<std::string>{"FILL", "OUT_LINE_2"}));
  ASSERT_EQ(drawing.lines.size(), 8u);
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

}  // namespace
}  // namespace jigtrue
