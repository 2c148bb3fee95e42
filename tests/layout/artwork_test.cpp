#include "jigtrue/layout/artwork.hpp"

#include "support/cpu_time.hpp"
#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <cmath>
#include <fstream>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// Extents are flattened to 0.0005 mm.
constexpr double kExtent_mm = 0.001;

std::string svg_page(const std::string& body, const std::string& attributes = R"x(viewBox="0 0 100 50")x") {
  return R"x(<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="50mm" )x" + attributes + ">" + body +
         "</svg>";
}

Artwork art(const std::string& body, const std::string& attributes = R"x(viewBox="0 0 100 50")x") {
  return read_artwork(svg_page(body, attributes), "a.svg");
}

void expect_ink(const Artwork& drawing, double x0, double y0, double x1, double y1) {
  EXPECT_NEAR(drawing.ink.low.x(), x0, kExtent_mm);
  EXPECT_NEAR(drawing.ink.low.y(), y0, kExtent_mm);
  EXPECT_NEAR(drawing.ink.high.x(), x1, kExtent_mm);
  EXPECT_NEAR(drawing.ink.high.y(), y1, kExtent_mm);
}

std::string refusal(const std::string& svg) {
  return test::input_error_text([&] { (void)read_artwork(svg, "a.svg"); });
}

TEST(Artwork, ReadsTheInkNotThePage) {
  expect_ink(art(R"x(<rect x="10" y="20" width="30" height="5"/>)x"), 10, 20, 40, 25);
  EXPECT_DOUBLE_EQ(art(R"x(<rect x="10" y="20" width="30" height="5"/>)x").page_mm.x(), 100.0);
}

TEST(Artwork, ReadsBasicShapes) {
  expect_ink(art(R"x(<circle cx="20" cy="20" r="5"/>)x"), 15, 15, 25, 25);
  expect_ink(art(R"x(<ellipse cx="20" cy="20" rx="5" ry="2"/>)x"), 15, 18, 25, 22);
  expect_ink(art(R"x(<polygon points="1,2 7,2 4 9"/>)x"), 1, 2, 7, 9);
  expect_ink(art(R"x(<polyline fill="none" stroke="red" stroke-width="0.0000001" points="1,2 7,2 4,9"/>)x"), 1, 2, 7,
             9);
  expect_ink(art(R"x(<line x1="3" y1="4" x2="9" y2="4" stroke="#000" stroke-width="2"/>)x"), 3, 3, 9, 5);
  expect_ink(art(R"x(<rect x="10" y="20" width="30" height="8" rx="3"/>)x"), 10, 20, 40, 28);
  expect_ink(art(R"x(<rect x="10%" y="20" width="30%" height="50%"/>)x"), 10, 20, 40, 45);
}

TEST(Artwork, ReadsEveryPathCommand) {
  expect_ink(art(R"x(<path d="M10,10h20v5H10z"/>)x"), 10, 10, 30, 15);
  expect_ink(art(R"x(<path d="m10 10 20 0 0 5-20 0z m40 0l1-1 1 1"/>)x"), 10, 9, 52, 15);
  // y(t) = 10 + 3 t (1 - t) 8 has its top at t = 1/2: 10 + 6
  expect_ink(art(R"x(<path d="M10 10C10 18 30 18 30 10z"/>)x"), 10, 10, 30, 16);
  expect_ink(art(R"x(<path d="M10 10c0 8 20 8 20 0s20-8 20 0"/>)x"), 10, 4, 50, 16);
  // a parabola: 2 t (1 - t) 8 tops at 4
  expect_ink(art(R"x(<path d="M10 10Q20 18 30 10T50 10"/>)x"), 10, 6, 50, 14);
  expect_ink(art(R"x(<path d="M10 20A10 10 0 0 1 30 20z"/>)x"), 10, 10, 30, 20);
  // too small for its chord of sqrt(1300), so made half a circle about (25, 30); flags and numbers run together
  expect_ink(art(R"x(<path d="M10 20a10,10,0,1130,20z"/>)x"), 10, 30 - std::sqrt(325.0), 25 + std::sqrt(325.0), 40);
  expect_ink(art(R"x(<path d="M10.5.5.5.5 5 6"/>)x"), 0.5, 0.5, 10.5, 6);
  expect_ink(art(R"x(<path d="M1e1+2E1L20-.5e1z"/>)x"), 10, -5, 20, 20);
  // a move alone leaves no dot, whatever the cap; closed, or with a line of no length, it does (SVG 1.1, 11.4)
  const std::string round = R"x(" stroke="black" stroke-width="2" stroke-linecap="round"/>)x";
  expect_ink(art(R"x(<path d="M10 10m30 5h5)x" + round), 39, 14, 46, 16);
  expect_ink(art(R"x(<path d="M10 10zM40 15h5)x" + round), 9, 9, 46, 16);
  expect_ink(art(R"x(<path d="M10 10h0M40 15h5)x" + round), 9, 9, 46, 16);
}

TEST(Artwork, MeasuresWidthJoinsAndCapsOfStrokes) {
  const std::string corner = R"x(<path d="M10 30V10H30" fill="none" stroke="black" stroke-width="2")x";
  expect_ink(art(corner + "/>"), 9, 9, 30, 30);
  expect_ink(art(corner + R"x( stroke-linecap="square"/>)x"), 9, 9, 31, 31);
  expect_ink(art(corner + R"x( stroke-linecap="round"/>)x"), 9, 9, 31, 31);
  // an angle of 60 degrees: the tip lies w/2 / sin 30 = 2 beyond the corner; a limit of 1.9 < 1 / sin 30 cuts it off
  const std::string tip = R"x(<path d="M10 30L20 12.679492L30 30" fill="none" stroke="black" stroke-width="2")x";
  const double foot = 30 + std::sin(kPi / 6);
  const double left = 10 - std::cos(kPi / 6);
  expect_ink(art(tip + "/>"), left, 10.679492, 60 - 20 - left, foot);
  expect_ink(art(tip + R"x( stroke-miterlimit="1.9"/>)x"), left, 12.679492 - std::sin(kPi / 6), 40 - left, foot);
  expect_ink(art(tip + R"x( stroke-linejoin="round"/>)x"), left, 11.679492, 40 - left, foot);
  // the pen is stretched with the drawing
  const std::string ring = R"x(<circle transform="scale(2 1)" cx="20" cy="20" r="5" fill="none" stroke="black" )x";
  expect_ink(art(ring + R"x(stroke-width="2"/>)x"), 28, 14, 52, 26);
  // and not with non-scaling-stroke: 2 px of 1/96 inch
  expect_ink(art(ring + R"x(stroke-width="2" vector-effect="non-scaling-stroke"/>)x"), 30 - 25.4 / 96, 15 - 25.4 / 96,
             50 + 25.4 / 96, 25 + 25.4 / 96);
}

// A corner of a line and a curve: its tip lies on the curve's tangent there, (1, 2), not on some chord. The angle to
// (3, 2) is 29.74 degrees, so the tip reaches 0.5 / sin(14.87) = 1.948 back along the middle direction, 48.56 degrees.
// librsvg's picture of the same corner, at 0.0018 mm to the pixel, has its last ink at x = 0.984; this says 0.983.
TEST(Artwork, MeasuresTipsOnTheCurvesOwnTangents) {
  const Artwork drawing = art(R"x(<path transform="translate(2 3) rotate(10)" d="M0 0C1 2 3 4 5 6L9 9H3V2z" fill="none"
                                  stroke="red" stroke-width="1"/>)x");
  const double half = (std::atan2(2.0, 1.0) - std::atan2(2.0, 3.0)) / 2;
  const double way = (std::atan2(2.0, 1.0) + std::atan2(2.0, 3.0)) / 2 + kPi / 18;
  // the points hard by the corner turn by up to 0.001 of the curve's own turn: 0.002 mm at this tip
  EXPECT_NEAR(drawing.ink.low.x(), 2 - 0.5 / std::sin(half) * std::cos(way), 0.002);
  EXPECT_NEAR(drawing.ink.low.y(), 3 - 0.5 / std::sin(half) * std::sin(way), 0.002);
}

TEST(Artwork, FollowsTransformsUnitsAndViewBoxes) {
  expect_ink(art(R"x(<g transform="translate(10 5) rotate(90)"><rect width="8" height="2"/></g>)x"), 8, 5, 10, 13);
  expect_ink(art(R"x(<g transform="matrix(1 0 0 -1 0 50)"><rect width="8" height="2"/></g>)x"), 0, 48, 8, 50);
  expect_ink(art(R"x(<rect width="4" height="4" transform="rotate(45 10 10),scale(2)"/>)x"), 10 - 4 * std::sqrt(2.0),
             10 - 10 * std::sqrt(2.0), 10 + 4 * std::sqrt(2.0), 10 - 2 * std::sqrt(2.0));
  // 100 x 50 mm page, a viewBox half as large
  expect_ink(art(R"x(<rect width="8" height="2"/>)x", R"x(viewBox="-10 0 50 25")x"), 20, 0, 36, 4);
  // a square viewBox in it stands in the middle: 50 mm for 10 units, 25 mm from the left
  expect_ink(art(R"x(<rect width="10" height="10"/>)x", R"x(viewBox="0 0 10 10")x"), 25, 0, 75, 50);
  expect_ink(art(R"x(<rect width="10" height="10"/>)x", R"x(viewBox="0 0 10 10" preserveAspectRatio="xMinYMin meet")x"),
             0, 0, 50, 50);
  expect_ink(art(R"x(<rect width="10" height="10"/>)x", R"x(viewBox="0 0 10 10" preserveAspectRatio="none")x"), 0, 0,
             100, 50);
  expect_ink(art(R"x(<rect width="1in" height="1cm" x="72pt" y="6pc"/>)x", ""), 25.4, 25.4, 50.8, 35.4);
}

TEST(Artwork, SaysWhenThePageHasNoUnits) {
  const Artwork drawing = read_artwork(
      R"x(<svg xmlns="http://www.w3.org/2000/svg" width="96" height="96"><rect width="48" height="96"/></svg>)x",
      "a.svg");
  expect_ink(drawing, 0, 0, 12.7, 25.4);
  ASSERT_EQ(drawing.notes.size(), 1u);
  EXPECT_NE(drawing.notes[0].find("1/96 inch"), std::string::npos);
  EXPECT_TRUE(art(R"x(<rect width="8" height="2"/>)x").notes.empty());
}

TEST(Artwork, FollowsUseSymbolsAndNestedViewports) {
  expect_ink(art(R"x(<defs><rect id="r" width="4" height="2"/></defs><use href="#r" x="10" y="20"/>)x"), 10, 20, 14,
             22);
  expect_ink(art(R"x(<rect id="r" width="4" height="2"/><use xmlns:xlink="http://www.w3.org/1999/xlink"
                     xlink:href="#r" transform="translate(6 1)"/>)x"),
             0, 0, 10, 3);
  expect_ink(art(R"x(<symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></symbol>
                     <use href="#s" x="10" y="10" width="20" height="20"/>)x"),
             10, 10, 30, 30);
  // what reaches beyond a nested viewport is cut
  expect_ink(art(R"x(<svg x="10" y="10" width="20" height="10"><rect x="-5" y="2" width="100" height="3"/></svg>)x"),
             10, 12, 30, 15);
  expect_ink(art(R"x(<svg x="10" y="10" width="20" height="10" overflow="visible">
                     <rect x="-5" y="2" width="100" height="3"/></svg>)x"),
             5, 12, 105, 15);
}

TEST(Artwork, ClipsByPaths) {
  const std::string clip = R"x(<clipPath id="c"><rect x="10" y="10" width="20" height="10"/></clipPath>)x";
  const Artwork cut = art(clip + R"x(<g clip-path="url(#c)"><circle cx="10" cy="15" r="8"/></g>)x");
  expect_ink(cut, 10, 10, 18, 20);
  const Artwork lines =
      art(clip + R"x(<path clip-path="url(#c)" d="M0 15H50" stroke="red" stroke-width="1" fill="none"/>)x");
  expect_ink(lines, 10, 14.5, 30, 15.5);
  ASSERT_EQ(lines.shapes.size(), 1u);
  EXPECT_EQ(lines.shapes[0].stroke->colour, "red");
  // two clips, one inside the other: what both leave
  expect_ink(art(clip + R"x(<clipPath id="d"><circle cx="10" cy="15" r="3"/></clipPath>
                            <g clip-path="url(#d)"><rect clip-path="url(#c)" width="100" height="50"/></g>)x"),
             10, 12, 13, 18);
}

TEST(Artwork, FollowsStylesAndLeavesOutWhatIsNotSeen) {
  // of rules of the same weight the later one counts, in whatever sheet it stands
  const Artwork two = art(R"x(<style>.a{fill:red}.a{fill:lime}</style><rect class="a" width="8" height="2"/>
                              <g><style>.a{fill:navy}</style></g>)x");
  EXPECT_EQ(two.shapes.front().fill, "navy");
  const std::string hidden = R"x(<rect x="60" width="8" height="2" )x";
  for (const char* way : {R"x(display="none")x", R"x(visibility="hidden")x", R"x(fill="none")x", R"x(opacity="0")x",
                          R"x(style="fill:none")x", R"x(style="display: none")x", R"x(class="off")x"}) {
    std::string body = "<style>.off{fill:none} rect.x , #q { stroke : red }</style>";
    body += hidden + way + "/>" + R"x(<rect width="8" height="2"/>)x";
    expect_ink(art(body), 0, 0, 8, 2);
  }
  const Artwork styled =
      art(R"x(<style type="text/css"><![CDATA[ /* note */ .a{fill:#00f;stroke:none} #b{fill:lime} ]]></style>
              <g fill="red"><rect class="a" width="8" height="2"/><rect class="a" id="b" width="8" height="2"/>
              <rect width="8" height="2"/><rect class="a" style="fill:navy" width="8" height="2"/></g>)x");
  ASSERT_EQ(styled.shapes.size(), 4u);
  EXPECT_EQ(styled.shapes[0].fill, "#00f");
  EXPECT_EQ(styled.shapes[1].fill, "lime");
  EXPECT_EQ(styled.shapes[2].fill, "red");
  EXPECT_EQ(styled.shapes[3].fill, "navy");
}

TEST(Artwork, TakesFilesAsDrawingProgramsWriteThem) {
  const std::string text =
      "\xEF\xBB\xBF<?xml version=\"1.0\"?>\n<!-- made by hand -->\n"
      "<!DOCTYPE svg PUBLIC \"-//W3C//DTD SVG 1.1//EN\" \"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd\">\n"
      "<svg:svg xmlns:svg=\"http://www.w3.org/2000/svg\" xmlns:own=\"urn:own\" width=\"10mm\" height=\"10mm\" "
      "viewBox=\"0 0 10 10\">"
      "<own:view page=\"1\"/><svg:metadata><own:x about=\"\"/></svg:metadata><svg:rect width=\"4\" "
      "height=\"2\"/></svg:svg>";
  expect_ink(read_artwork(text, "a.svg"), 0, 0, 4, 2);
}

// The sheet that editors put below a drawing: a rectangle, a path beyond the page, with a stroke of its own colour.
TEST(Artwork, TakesAWhitePageBackgroundAsNoInk) {
  for (const char* sheet : {R"x(<rect width="100" height="50" fill="#FFFFFF"/>)x",
                            R"x(<rect width="100%" height="100%" style="fill:white"/>)x",
                            R"x(<path d="M-1-1h102v52h-102z" fill="rgb(255, 255, 255)" stroke="#fff"/>)x"}) {
    const Artwork drawing = art(std::string(sheet) + R"x(<rect x="10" y="20" width="30" height="4"/>)x");
    expect_ink(drawing, 10, 20, 40, 24);
    EXPECT_EQ(drawing.shapes.size(), 1u);
    ASSERT_EQ(drawing.notes.size(), 1u);
    EXPECT_NE(drawing.notes[0].find("white page background"), std::string::npos);
  }
  // white elsewhere is burned by importers that look at outlines: it stays ink
  EXPECT_EQ(
      art(R"x(<rect x="10" y="20" width="30" height="4"/><rect width="100" height="50" fill="white"/>)x").shapes.size(),
      2u);
  EXPECT_EQ(art(R"x(<rect x="10" width="80" height="50" fill="white"/><rect width="5" height="5"/>)x").shapes.size(),
            2u);
  EXPECT_EQ(art(R"x(<rect width="100" height="50" fill="#eee"/>)x").shapes.size(), 1u);
  EXPECT_EQ(art(R"x(<rect width="100" height="50" fill="white" stroke="black"/>)x").shapes.size(), 1u);
  EXPECT_NE(refusal(svg_page(R"x(<rect width="100" height="50" fill="white"/>)x")).find("holds no ink"),
            std::string::npos);
}

// Packed by gzip (RFC 1952), as editors write .svgz: a rectangle of 4 x 2 mm on a page of 10 x 10.
const std::string& packed_drawing() {
  static const char bytes[] =
      "\x1f\x8b\x08\x00\x00\x00\x00\x00\x02\x03\x45\x8c\x41\x0a\x80\x30\x0c\x04\xbf\x12\xf2\x00\x93\xaa\x27\x69\x7b\xf0"
      "\x2b\x5a"
      "\xda\x82\xb5\xa2\xc1\xf8\x7c\xf5\x20\xc2\x5e\x06\x66\xd6\x1e\x67\x84\xab\x2c\xeb\xe1\x30\x89\x6c\x03\x91\xaa\x36"
      "\xda\x35"
      "\x75\x8f\xd4\x32\x33\x3d\x06\x82\xe6\x59\x92\x43\xc3\xa5\x20\xa4\x90\x63\x92\x8f\xce\x1c\x74\xac\x97\x43\x06\x06"
      "\xf3\x0e"
      "\xbd\xdd\xc3\x24\x5f\xd4\xff\x45\x8b\xe4\xed\xfb\xe8\x6f\xb4\xbe\x1e\x6c\x79\x00\x00\x00";
  static const std::string text(bytes, sizeof bytes - 1);
  return text;
}

TEST(Artwork, ReadsPackedDrawings) {
  const test::TemporaryFolder folder;
  const auto write = [&](const std::string& bytes) {
    std::ofstream(folder / "a.svgz", std::ios::binary) << bytes;
    return folder / "a.svgz";
  };
  expect_ink(read_artwork(read_svg_file(write(packed_drawing())), "a.svgz"), 0, 0, 4, 2);
  const std::string plain = svg_page(R"x(<rect width="3" height="2"/>)x");
  EXPECT_EQ(read_svg_file(write(plain)), plain);
  // cut short, and one bit turned over in the middle
  const std::string cut = packed_drawing().substr(0, packed_drawing().size() / 2);
  EXPECT_NE(test::input_error_text([&] { (void)read_svg_file(write(cut)); }).find("damaged"), std::string::npos);
  std::string turned = packed_drawing();
  turned[turned.size() / 2] = static_cast<char>(turned[turned.size() / 2] ^ 1);
  EXPECT_NE(test::input_error_text([&] { (void)read_svg_file(write(turned)); }).find("damaged"), std::string::npos);
}

struct Bad {
  const char* body;
  const char* says;
};

TEST(Artwork, RefusesWhatCannotBeBurnedWithTheRemedy) {
  for (const Bad& bad : std::initializer_list<Bad>{
           {"<text x='1' y='2'>Anna</text>", "convert it to outlines"},
           {"<g><image width='5' height='5' href='data:image/png;base64,AA=='/></g>", "trace it to paths"},
           {"<rect width='5' height='5' fill='url(#g)'/>", "gradient or pattern"},
           {"<path d='M0 0H9' stroke='red' stroke-dasharray='1 2'/>", "dashed"},
           {"<rect width='5' height='5' filter='url(#f)'/>", "expand it to plain paths"},
           {"<path d='M0 0H9' style='marker-end:url(#f)'/>", "marker-end"},
           {"<rect width='5' height='5' mask='url(#f)'/>", "mask"},
           {"<switch><rect width='5' height='5'/></switch>", "language"},
           {"<gear teeth='5'/>", "does not know"},
           {"<use href='#nobody'/>", "#nobody, which is not in the file"},
           {"<rect width='5em' height='5'/>", "not a length"},
           {"<rect width='-5' height='5'/>", "negative"},
           {"<path d='M0 0 L'/>", "malformed"},
           {"<path d='L0 0'/>", "malformed"},
           {"<path d='M0 0 1 nan 2'/>", "malformed"},
           {"<rect width='5' height='5' transform='turn(3)'/>", "transform cannot be read"},
           {"<rect width='5' height='5' fill='&quot;/>&lt;x'/>", "no colour"},
           {"<style>g > rect{fill:red}</style><rect width='5' height='5'/>", "style selector"},
           {"<style>@media print{rect{fill:red}}</style><rect width='5' height='5'/>", "at-rule"}}) {
    const std::string text = refusal(svg_page(bad.body));
    EXPECT_NE(text.find(bad.says), std::string::npos) << bad.body << "\n" << text;
    EXPECT_EQ(text.find('\n'), std::string::npos);
  }
}

TEST(Artwork, RefusesInkOfNoSize) {
  for (const char* body : {"", "<g/>", "<rect width='5' height='0'/>", "<path d=''/>", "<path d='M3 3'/>",
                           "<path d='M3 3z' fill='black'/>", "<rect width='5' height='5' fill='none'/>",
                           "<g transform='scale(0)'><rect width='5' height='5'/></g>", "<circle r='0'/>",
                           "<rect width='1e-5' height='1e-5'/>"})
    EXPECT_FALSE(refusal(svg_page(body)).empty()) << body;
  EXPECT_FALSE(
      refusal(R"x(<svg xmlns="http://www.w3.org/2000/svg" width="0" height="10"><rect width="1" height="1"/></svg>)x")
          .empty());
}

TEST(Artwork, RefusesHostileFilesQuickly) {
  const std::string rect = "<rect width='5' height='5'/>";
  std::string deep;
  for (int i = 0; i < 100'000; ++i) deep += "<g>";
  deep += rect;
  for (int i = 0; i < 100'000; ++i) deep += "</g>";
  std::string laughs = "<defs><g id='a0'>" + rect + "</g>";
  for (int i = 1; i < 40; ++i) {
    laughs += "<g id='a" + std::to_string(i) + "'>";
    for (int k = 0; k < 10; ++k) laughs += "<use href='#a" + std::to_string(i - 1) + "'/>";
    laughs += "</g>";
  }
  laughs += "</defs><use href='#a39'/>";
  std::string star = "<clipPath id='c'><path d='M0 0";
  for (int i = 0; i < 100'000; ++i)
    star += i % 2 == 0 ? "L90 " + std::to_string(i % 977) : "L1 " + std::to_string(i % 883);
  star += "'/></clipPath><rect width='50' height='50' clip-path='url(#c)'/>";
  std::string points = "<path d='M0 0";
  for (int i = 0; i < 2'000'000; ++i) points += " 1 2";
  points += "'/>";
  // what a use reads anew, each time
  const auto times = [](int n, const std::string& text) {
    std::string all;
    for (int i = 0; i < n; ++i) all += text;
    return all;
  };
  std::string rules;
  for (int i = 0; i < 1990; ++i) rules += ".c" + std::to_string(i) + "{fill:red}";
  const std::string used = times(20'000, "<use href='#q'/>") + rect;
  const std::string blank(8'000'000, ' ');
  const std::string word(8'000'000, 'a');
  const std::string entity =
      "<!DOCTYPE svg [<!ENTITY a \"ha\"><!ENTITY b \"&a;&a;&a;&a;\">]><svg xmlns=\"http://www.w3.org/2000/svg\" "
      "width=\"9mm\" "
      "height=\"9mm\"><path d=\"&b;\"/></svg>";
  const std::string fetched =
      "<!DOCTYPE svg SYSTEM \"file:///etc/hostname\"><svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9mm\" "
      "height=\"9mm\"/>";
  const std::vector<std::pair<std::string, std::string>> all = {
      {entity, "entities"},
      {fetched, "document type"},
      {"<?xml-stylesheet href=\"far.css\"?>" + svg_page(rect), "style sheet from outside"},
      {svg_page("<script>alert(1)</script>" + rect), "active content"},
      {svg_page("<defs><script href='far.js'/></defs>" + rect), "active content"},
      {svg_page("<foreignObject/>" + rect), "active content"},
      {svg_page("<rect width='5' height='5'><animate attributeName='x'/></rect>"), "active content"},
      {svg_page("<rect width='5' height='5' onload='x()'/>"), "event handler"},
      {svg_page("<use href='far.svg#a'/>" + rect), "outside the file"},
      {svg_page("<image href='http://far.example/a.png' width='5' height='5'/>" + rect), "outside the file"},
      {svg_page("<a href='javascript:x()'>" + rect + "</a>"), "outside the file"},
      {svg_page("<rect width='5' height='5' fill='url(http://far.example/a#b)'/>"), "outside the file"},
      {svg_page("<style>@import url(far.css);</style>" + rect), "at-rule"},
      {svg_page(deep), "64 levels"},
      {svg_page(laughs), "200,000 elements"},
      {svg_page("<g id='a'><use href='#a'/></g>"), "uses itself"},
      {svg_page("<clipPath id='a' clip-path='url(#a)'>" + rect +
                "</clipPath><rect width='5' height='5' clip-path='url(#a)'/>"),
       "clip"},
      {svg_page(star), "too tangled"},
      {svg_page(points), "malformed, or holds"},
      {svg_page("<style>" + rules + "</style>" + times(60'000, "<g class='a'>" + rect + "</g>")), "too long to read"},
      {svg_page("<style>" + rules + "</style><g id='q' class='" + times(2'000'000, "x ") + "'>" + rect + "</g>" + used),
       "too long to read"},
      {svg_page("<path id='q' d='" + blank + "M0 0h1v1z'/>" + used), "too long to read"},
      {svg_page("<g id='q' transform='" + times(1'000'000, "scale(1)") + "'>" + rect + "</g>" + used),
       "too long to read"},
      {svg_page("<g id='q' " + times(1'000'000, "a='' ") + ">" + rect + "</g>" + used), "too long to read"},
      {svg_page("<style>" + times(1990, "g,") + "rect{fill:" + word + "}</style>" + rect), "longer than 1000"},
      {svg_page("<g fill='" + word + "'>" + times(100'000, rect) + "</g>"), "longer than 1000"},
      {svg_page("<path d='M0 0" + times(400'000, "c9e4 9e4-9e4 9e4 0 0") + "'/>"), "2,000,000 points"},
      {svg_page("<rect width='1e308' height='5'/>"), "not a length"},
      {svg_page("<rect width='9e999' height='5'/>"), "not a length"},
      {svg_page("<path d='M0 0H1e300'/>"), "malformed"},
      {svg_page("<g transform='scale(1e6)'><g transform='scale(1e6)'>" + rect + "</g></g>"), "100 m"},
      {svg_page(rect).substr(0, 90), "well-formed"},
      {"", "well-formed"},
      {"{\"schema\": 1}", "well-formed"},
      {std::string(20u << 20, ' '), "16 MB"},
      {svg_page(std::string(1u << 20, '<')), "400,000"},
      {"<html><body/></html>", "root is <html>"},
      {std::string("\0\0\0\0", 4), "well-formed"}};
  for (const auto& [svg, says] : all) {
    std::string text;
    const double seconds = test::cpu_seconds([&, &art = svg] { text = refusal(art); });
    EXPECT_NE(text.find(says), std::string::npos) << svg.substr(0, 300) << "\n" << text;
    // a slow machine included, and the checks of a sanitizer; without bounds these take minutes or never end
    EXPECT_LT(seconds, JIGTRUE_SANITIZED ? 100.0 : 10.0) << says;
  }
}

}  // namespace
}  // namespace jigtrue
