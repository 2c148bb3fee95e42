#include "jigtrue/layout/layout_svg.hpp"

#include "support/patterns.hpp"
#include "support/sample_result.hpp"

#include <array>
#include <map>
#include <sstream>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// A reader of its own: elements, attributes and transforms, as any importer sees them, without the writer's code.
struct ReadBack {
  double width_mm = 0.0;
  double height_mm = 0.0;
  std::array<double, 4> view_box{};
  struct Group {
    std::string xml_id;
    Vector2d translate = Vector2d::Zero();
    double rotate_deg = 0.0;
    bool has_box = false;
    Vector2d box_at = Vector2d::Zero();
    Vector2d box_size = Vector2d::Zero();

    // The box's corner at (sx, sy) half sizes, in page mm, by SVG 1.1 section 7.6: translate times rotate.
    [[nodiscard]] Vector2d corner(double sx, double sy) const {
      const Vector2d local = box_at + box_size / 2.0 + Vector2d(sx * box_size.x(), sy * box_size.y()) / 2.0;
      const double a = rotate_deg * kPi / 180.0;
      return translate + Vector2d(std::cos(a) * local.x() - std::sin(a) * local.y(),
                                  std::sin(a) * local.x() + std::cos(a) * local.y());
    }
  };
  std::map<std::string, Group> by_slot;  // keyed by data-slot as written
};

std::map<std::string, std::string> attributes(const std::string& tag) {
  std::map<std::string, std::string> out;
  for (const test::Match& pair : test::all_matches(tag, R"re(([\w:-]+)="([^"]*)")re")) out[pair[1]] = pair[2];
  return out;
}

double in_mm(const std::string& text) {
  EXPECT_EQ(text.substr(text.size() - 2), "mm");
  return std::stod(text);
}

ReadBack read_back(const std::string& svg) {
  ReadBack out;
  ReadBack::Group* open = nullptr;
  for (const test::Match& tag : test::all_matches(svg, R"(<(/?)(\w+)([^>]*)>)")) {
    const std::string& name = tag[2];
    const auto a = attributes(tag[3]);
    if (name == "svg" && tag[1].empty()) {
      out.width_mm = in_mm(a.at("width"));
      out.height_mm = in_mm(a.at("height"));
      std::istringstream(a.at("viewBox")) >> out.view_box[0] >> out.view_box[1] >> out.view_box[2] >> out.view_box[3];
    } else if (name == "g" && a.count("data-slot") != 0) {
      open = &out.by_slot[a.at("data-slot")];
      open->xml_id = a.at("id");
      const std::string transform = a.at("transform");
      const test::Match m = test::first_match(transform, R"(^translate\((\S+) (\S+)\) rotate\((\S+)\)$)");
      if (m.empty()) throw std::runtime_error("transform: " + transform);
      open->translate = {std::stod(m[1]), std::stod(m[2])};
      open->rotate_deg = std::stod(m[3]);
    } else if (name == "rect" && open != nullptr) {
      open->has_box = true;
      open->box_at = {std::stod(a.at("x")), std::stod(a.at("y"))};
      open->box_size = {std::stod(a.at("width")), std::stod(a.at("height"))};
    }
  }
  return out;
}

// Where a bed point lies on the page, from the contract alone: X to the right, Y away from the operator, (0, 0) at the
// machine's origin corner; the page is the bed seen from above, front edge down.
Vector2d on_page(const Vector2d& bed, const Machine& machine) {
  const std::string corner = to_string(machine.origin_corner);
  const double from_left = corner.find("left") != std::string::npos ? bed.x() : machine.bed_mm.x() + bed.x();
  const double from_front = corner.find("front") != std::string::npos ? bed.y() : machine.bed_mm.y() + bed.y();
  return {from_left, machine.bed_mm.y() - from_front};
}

// Numbers are written to 0.001 mm, so a read position is off by at most half of that on each axis.
constexpr double kWritten_mm = 0.0005 + 1e-9;
// A corner adds the box's own rounding and the angle's, 0.00005 deg on a lever of 38 mm.
constexpr double kCorner_mm = 0.001;

CheckResult moved_result(CheckResult result, const Vector2d& by) {
  for (SlotResult& slot : result.slots) {
    slot.nominal_centre_mm += by;
    if (slot.numbers) slot.numbers->centre_mm += by;
  }
  return result;
}

TEST(LayoutSvg, PutsEveryDesignInPlaceForEveryOriginCorner) {
  for (const OriginCorner corner :
       {OriginCorner::front_left, OriginCorner::front_right, OriginCorner::back_left, OriginCorner::back_right}) {
    Machine machine{{420, 380}, corner, {}};
    // the same blanks on the same bed, in that machine's own coordinates
    const CheckResult result = moved_result(test::sample_result(), machine.front_left_mm());
    const ReadBack read = read_back(layout_svg(result, machine));
    EXPECT_EQ(read.width_mm, 420);
    EXPECT_EQ(read.height_mm, 380);
    EXPECT_EQ(read.view_box, (std::array<double, 4>{0, 0, 420, 380}));
    ASSERT_EQ(read.by_slot.size(), 3u);
    for (const SlotResult& slot : result.slots) {
      const auto found = read.by_slot.find(slot.id);
      if (found == read.by_slot.end()) continue;
      const ReadBack::Group& group = found->second;
      const SlotNumbers& n = *slot.numbers;
      const Vector2d expected = on_page(n.centre_mm, machine);
      EXPECT_NEAR(group.translate.x(), expected.x(), kWritten_mm) << slot.id << " " << to_string(corner);
      EXPECT_NEAR(group.translate.y(), expected.y(), kWritten_mm) << slot.id << " " << to_string(corner);
      ASSERT_TRUE(group.has_box);
      for (const double sx : {-1.0, 1.0}) {
        for (const double sy : {-1.0, 1.0}) {
          // on the bed, across is along turned by +90 degrees: up on the page, so SVG's y has the other sign
          const double a = n.axis_deg * kPi / 180.0;
          const Vector2d bed = n.centre_mm + sx * slot.design->width_mm / 2 * Vector2d(std::cos(a), std::sin(a)) -
                               sy * slot.design->height_mm / 2 * Vector2d(-std::sin(a), std::cos(a));
          const Vector2d there = on_page(bed, machine);
          EXPECT_NEAR(group.corner(sx, sy).x(), there.x(), kCorner_mm) << slot.id;
          EXPECT_NEAR(group.corner(sx, sy).y(), there.y(), kCorner_mm) << slot.id;
        }
      }
    }
  }
}

TEST(LayoutSvg, HoldsOnlySlotsThatAreReadyAndNamesTheOthers) {
  const std::string svg = layout_svg(test::sample_result());
  const ReadBack read = read_back(svg);
  for (const char* id : {"1", "2", "8"}) EXPECT_EQ(read.by_slot.count(id), 1u) << id;
  EXPECT_EQ(read.by_slot.size(), 3u);
  EXPECT_EQ(read.by_slot.at("1").xml_id, "slot-1");
  for (const char* text : {"slot 3 (mismatch)", "slot 4 (the design is 5.0 mm high", "slot 5 (empty)",
                           "slot 6 (doubtful)", "slot 7 (its place along was not measured"}) {
    EXPECT_NE(svg.find(text), std::string::npos) << text;
  }
}

TEST(LayoutSvg, WithoutAMachineTheBedsOriginIsTheLowerLeftCorner) {
  const CheckResult result = test::sample_result();
  const ReadBack read = read_back(layout_svg(result));
  for (const SlotResult& slot : result.slots) {
    const auto found = read.by_slot.find(slot.id);
    if (found == read.by_slot.end()) continue;
    EXPECT_NEAR(found->second.translate.x(), slot.numbers->centre_mm.x(), kWritten_mm);
    EXPECT_NEAR(found->second.translate.y(), read.height_mm - slot.numbers->centre_mm.y(), kWritten_mm);
  }
  // slot 8 stands upright at x = 300, the level ones reach to 200 + 38: the margin beyond is 10 mm, in whole mm
  EXPECT_GE(read.width_mm, 300 + 2.5 + 10);
  EXPECT_LE(read.width_mm, 300 + 2.5 + 10 + 2);
}

TEST(LayoutSvg, WithoutAMachineNegativePositionsReachTheOriginToo) {
  const CheckResult result = moved_result(test::sample_result(), {-500, -400});
  const ReadBack read = read_back(layout_svg(result));
  const Vector2d centre = result.slots[0].numbers->centre_mm;
  // the origin is now the upper right corner
  EXPECT_NEAR(read.by_slot.at("1").translate.x(), read.width_mm + centre.x(), kWritten_mm);
  EXPECT_NEAR(read.by_slot.at("1").translate.y(), -centre.y(), kWritten_mm);
}

TEST(LayoutSvg, KeepsThePlaceOfASlotWithoutADesign) {
  CheckResult result = test::sample_result();
  result.slots[0].design.reset();
  result.slots[0].design_fits.reset();
  const ReadBack read = read_back(layout_svg(result));
  ASSERT_EQ(read.by_slot.count("1"), 1u);
  EXPECT_FALSE(read.by_slot.at("1").has_box);
}

TEST(LayoutSvg, MakesXmlIdsThatAreValidAndUnique) {
  CheckResult result = test::sample_result();
  result.fixture_name = "<pens> & \"co\"";
  result.slots[0].id = "a b";
  result.slots[1].id = "a_b";
  result.slots[6] = result.slots[0];
  result.slots[6].id = "a\"b<&>";
  result.slots[7].id = "\xC3\xA4\x01";
  const std::string svg = layout_svg(result);
  const ReadBack read = read_back(svg);
  EXPECT_EQ(read.by_slot.at("a b").xml_id, "slot-a_b");
  EXPECT_EQ(read.by_slot.at("a_b").xml_id, "slot-a_b-2");
  EXPECT_EQ(read.by_slot.at("a&quot;b&lt;&amp;&gt;").xml_id, "slot-a_b___");
  EXPECT_EQ(read.by_slot.at("\xC3\xA4\xEF\xBF\xBD").xml_id, "slot-___");
  EXPECT_NE(svg.find("<title>Layout: &lt;pens&gt; &amp; &quot;co&quot; (the page is not the bed)</title>"),
            std::string::npos);
  EXPECT_EQ(svg.find('\x01'), std::string::npos);
}

TEST(LayoutSvg, HoldsOneCopyOfTheArtworkForEachSlotInPassesAsStated) {
  const Artwork drawing = read_artwork(
      R"x(<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" viewBox="0 0 40 20">
          <rect x="10" y="4" width="20" height="4" fill="#123456"/>
          <path d="M12 8C14 9 16 9 18 8" fill="none" stroke="red" stroke-width="0.2"/></svg>)x",
      "a.svg");
  CheckResult result = test::sample_result();
  const std::string svg = layout_svg(result, std::nullopt, common_art(drawing));
  const ReadBack read = read_back(svg);
  EXPECT_EQ(read.by_slot.size(), 3u);
  EXPECT_FALSE(read.by_slot.at("1").has_box);
  std::size_t copies = 0;
  for (std::size_t at = svg.find("#123456"); at != std::string::npos; at = svg.find("#123456", at + 1)) ++copies;
  EXPECT_EQ(copies, 3u);
  // the ink reaches from y = 4 to the curve's lowest point, 8.75, and 0.1 of stroke: its middle is 6.425; x: 10 to 30
  const test::Match m = test::first_match(svg, R"(<path d="M-10\.0000 (-2\.42[0-9]+)L10\.0000 )");
  ASSERT_FALSE(m.empty()) << svg.substr(0, 2000);
  EXPECT_NEAR(std::stod(m[1]), -2.425, 0.0005);  // half the tolerance of extents, and the last digit

  DesignArt art;
  const auto shapes = common_art(drawing).common->front().shapes;
  art.common = std::make_shared<const std::vector<Pass>>(
      std::vector<Pass>{{"fill \"first\"", {shapes[0]}, {}}, {"outline", {shapes[1]}, {}}});
  const std::string passes = layout_svg(result, std::nullopt, art);
  for (const char* id : {"slot-1", "slot-2", "slot-8"}) {
    const std::size_t first =
        passes.find("<g id=\"" + std::string(id) + "-fill__first_\" data-pass=\"fill &quot;first&quot;\"");
    const std::size_t second = passes.find("<g id=\"" + std::string(id) + "-outline\"");
    ASSERT_NE(first, std::string::npos);
    ASSERT_NE(second, std::string::npos);
    EXPECT_LT(first, second);
  }
}

TEST(DesignArt, WrapsByArcLength) {
  // a square of 5 mm on a barrel of R = 5: its edges at arc length 2.5 lie at 5 sin(0.5) in the plan
  const Artwork square = read_artwork(
      R"x(<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm" viewBox="0 0 10 10">
          <rect x="1" y="2" width="5" height="5"/></svg>)x",
      "a.svg");
  const auto flat = common_art(square);
  const auto round = wrapped(*flat.common, 5.0, 0.0);
  ASSERT_TRUE(round);
  const InkBox box = ink_of(*round);
  EXPECT_NEAR(box.size().x(), 5.0, 1e-9);
  EXPECT_NEAR(box.high.y(), 5.0 * std::sin(0.5), 1e-9);
  EXPECT_NEAR(box.low.y(), -5.0 * std::sin(0.5), 1e-9);
  // a slanted line bends: every point of it stays where its own arc length says
  const Artwork slant = read_artwork(
      R"x(<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm" viewBox="0 0 10 10">
          <path d="M0 0L5 5" fill="none" stroke="red" stroke-width="0.000001"/></svg>)x",
      "a.svg");
  const auto bent = wrapped(*common_art(slant).common, 5.0, 0.0);
  const Polyline2d line = flattened(bent->front().shapes.front().outline.front(), 0.01);
  ASSERT_GT(line.size(), 10u);
  for (const Vector2d& p : line) EXPECT_NEAR(p.y(), 5.0 * std::sin(p.x() / 5.0), 1e-9);
  // beyond a quarter of the way round nothing can be burned from above
  EXPECT_FALSE(wrapped(*flat.common, 1.5, 0.0));
}

TEST(LayoutSvg, SaysWhenItsPageIsNotTheBed) {
  const CheckResult result = test::sample_result();
  const std::string bare = layout_svg(result);
  EXPECT_NE(bare.find("(the page is not the bed)</title>"), std::string::npos);
  EXPECT_NE(bare.find("its lower left corner belongs at bed X 0, Y 0 mm"), std::string::npos) << bare.substr(0, 1200);
  const std::string known = layout_svg(result, Machine{{420, 380}, OriginCorner::front_left, {}});
  EXPECT_EQ(known.find("not the bed"), std::string::npos);
  EXPECT_TRUE(page_caution(result, Machine{{420, 380}, OriginCorner::front_left, {}}).empty());
}

// The colours are those that the header and the README list.
TEST(LayoutSvg, GivesEveryNamedPassAColourOfItsOwn) {
  const Artwork art = read_artwork(
      R"x(<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="4mm" viewBox="0 0 10 4">
          <rect width="10" height="4" fill="#123456"/><path d="M1 1h8" stroke="red" stroke-width="0.1"/></svg>)x",
      "a.svg");
  DesignArt passes;
  auto two = std::make_shared<std::vector<Pass>>();
  for (const char* name : {"fill", "outline"}) two->push_back({name, art.shapes, std::nullopt});
  passes.common = two;
  const std::string svg = layout_svg(test::sample_result(), std::nullopt, passes);
  EXPECT_NE(svg.find("data-pass=\"fill\" stroke=\"#0072b2\""), std::string::npos);
  EXPECT_NE(svg.find("data-pass=\"outline\" stroke=\"#d55e00\""), std::string::npos);
  EXPECT_NE(svg.find("fill=\"#0072b2\""), std::string::npos);
  EXPECT_NE(svg.find("stroke=\"#d55e00\" stroke-width"), std::string::npos);
  for (const char* own : {"#123456", "\"red\""}) EXPECT_EQ(svg.find(own), std::string::npos) << own;
  // one drawing that is no pass keeps its colours
  EXPECT_NE(layout_svg(test::sample_result(), std::nullopt, common_art(art)).find("#123456"), std::string::npos);
}

std::size_t placed_on(const Machine& machine, CheckResult& result) {
  result = test::sample_result();
  judge_on_bed(result, machine);
  return place_designs(result, machine).placed.size();
}

TEST(JudgeOnBed, ASlotWhoseDesignLeavesTheBedIsNotReady) {
  CheckResult result;
  const std::size_t all = placed_on({{420, 380}, OriginCorner::front_left, {}}, result);
  EXPECT_EQ(all, 3u);  // 1, 2 and 8
  // a bed that ends at x = 237: the level designs of 75.9 mm about x = 200.82 reach to 238.77, slot 8 stands at 300
  EXPECT_EQ(placed_on({{237, 380}, OriginCorner::front_left, {}}, result), 0u);
  EXPECT_EQ(result.slots[0].design_fits, false);
  EXPECT_NE(result.slots[0].design_note.find("reaches 1.8 mm beyond the right edge of the bed (237 x 380 mm)"),
            std::string::npos)
      << result.slots[0].design_note;
  EXPECT_TRUE(result.needs_person());
  // a hair inside and a hair outside of what it needs: 200.8212 + 37.95 cos 0.18 + 2.5 sin 0.18 = 238.7789
  EXPECT_EQ(placed_on({{238.778, 380}, OriginCorner::front_left, {}}, result), 0u);
  EXPECT_EQ(placed_on({{238.779, 380}, OriginCorner::front_left, {}}, result), 1u);
  // the wrong corner puts everything off the bed; the corner is named
  EXPECT_EQ(placed_on({{420, 380}, OriginCorner::back_right, {}}, result), 0u);
  EXPECT_NE(result.slots[0].design_note.find("beyond the right edge and 153.2 mm beyond the back edge"),
            std::string::npos)
      << result.slots[0].design_note;
  EXPECT_NE(result.slots[0].design_note.find("origin_corner (back-right)"), std::string::npos);
  // what is not found needs no such reason
  EXPECT_TRUE(result.slots[4].design_note.empty());
}

}  // namespace
}  // namespace jigtrue
