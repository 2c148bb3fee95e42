#include "jigtrue/layout/name_list.hpp"

#include "jigtrue/base/read_file.hpp"
#include "support/input_error_text.hpp"

#include <filesystem>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

TEST(NameList, ReadsCsvAsPeopleSaveIt) {
  const auto rows = read_name_list("\xEF\xBB\xBFslot;text\r\n1;Anna\r\n\r\n 2 ;\"B; \"\"Bo\"\"\"\r\n", "n.csv");
  ASSERT_EQ(rows.size(), 2u);
  EXPECT_EQ(rows[0].slot_id, "1");
  EXPECT_EQ(rows[0].text, "Anna");
  EXPECT_EQ(rows[1].slot_id, "2");
  EXPECT_EQ(rows[1].text, "B; \"Bo\"");
  EXPECT_EQ(rows[1].line, 4u);
  const auto mixed = read_name_list("artwork,slot,text,note\n,1,Anna,x\nb.svg,2,,\n", "n.csv");
  EXPECT_EQ(mixed[0].text, "Anna");
  EXPECT_EQ(mixed[1].artwork_file, "b.svg");
}

TEST(NameList, RefusesListsThatCannotBeMeant) {
  for (const auto& [csv, says] : std::initializer_list<std::pair<const char*, const char*>>{
           {"", "empty"},
           {"1,Anna\n", "columns"},
           {"slot,text\n1,A\n1,B\n", "line 3: slot 1 is listed twice"},
           {"slot,text\n,A\n", "names no slot"},
           {"slot,text\n1,\n", "neither"},
           {"slot,text,artwork\n1,A,a.svg\n", "text and artwork"},
           {"slot,text\n1,\"A\n", "quote"}}) {
    const std::string text = test::input_error_text([&, c = csv] { (void)read_name_list(c, "n.csv"); });
    EXPECT_NE(text.find(says), std::string::npos) << text;
  }
}

// A free font of the system's; the tests that need its letters skip without it.
std::string font_file() {
  for (const char* name : {"/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf", "/usr/share/fonts/dejavu/DejaVuSans.ttf",
                           "/usr/share/fonts/TTF/DejaVuSans.ttf", "/usr/share/fonts/dejavu-sans-fonts/DejaVuSans.ttf"})
    if (std::filesystem::exists(name)) return name;
  return {};
}

#define REQUIRE_FONT(font)                                                                              \
  if (font_file().empty()) GTEST_SKIP() << "the font DejaVu Sans (fonts-dejavu-core) is not installed"; \
  const OutlineFont font(read_text_file(font_file()), "DejaVuSans.ttf")

TEST(OutlineFont, MakesPathsOfLetters) {
  REQUIRE_FONT(font);
  // the font's own tables: an em of 2048, "I" 201 to 403 wide and 1493 tall, advance 604; "o" is round and has a hole
  const InkBox stem = ink_of(font.outlines("I", "t"));
  EXPECT_NEAR(stem.low.x(), 201.0 / 2048, 1e-6);
  EXPECT_NEAR(stem.high.x(), 403.0 / 2048, 1e-6);
  EXPECT_NEAR(stem.low.y(), -1493.0 / 2048, 1e-6);
  EXPECT_NEAR(stem.high.y(), 0.0, 1e-9);
  EXPECT_NEAR(ink_of(font.outlines("II", "t")).high.x(), (604.0 + 403.0) / 2048, 1e-6);
  EXPECT_EQ(font.outlines("o", "t").outline.size(), 2u);
  // this font's "u" holds a contour of one point, too: nothing to burn
  for (const SubPath& path : font.outlines("Tulverby", "t").outline) {
    const InkBox box = ink_of(InkShape{{path}, "black", false, std::nullopt});
    EXPECT_TRUE(!box.empty() && box.size().minCoeff() > 0.01);
  }
  // shaped, not just lined up: the font kerns this pair closer
  EXPECT_LT(ink_of(font.outlines("AV", "t")).size().x(),
            ink_of(font.outlines("A", "t")).size().x() + ink_of(font.outlines("V", "t")).size().x());
}

TEST(OutlineFont, RefusesWhatItCannotSet) {
  REQUIRE_FONT(font);
  for (const auto& [text, says] :
       std::initializer_list<std::pair<std::string, const char*>>{{"\xE6\xBC\xA2", "U+6F22"},
                                                                  {"  ", "no letters"},
                                                                  {"a\xFF", "UTF-8"},
                                                                  {std::string(300, 'a'), "200"},
                                                                  {"ab\xD7\xA9\xD7\x9C", "directions"}})
    EXPECT_NE(test::input_error_text([&, t = text] { (void)font.outlines(t, "names"); }).find(says), std::string::npos)
        << says;
}

TEST(OutlineFont, RefusesWhatIsNoFont) {
  for (const std::string& bytes : {std::string(), std::string("not a font at all"), std::string(5000, '\0')})
    EXPECT_NE(test::input_error_text([&] { (void)OutlineFont(bytes, "x.ttf"); }).find("no TrueType"),
              std::string::npos);
}

TEST(SetNames, SetsAllInOneSizeOnOneLineWithinTheirRoom) {
  REQUIRE_FONT(font);
  const auto rows = read_name_list("slot,text\n1,Ava\n2,Olga\n3,Une\n9,Nobody\n", "n.csv");
  const std::map<std::string, TextRoom> rooms = {{"1", {60, 4.5}}, {"2", {60, 4.0}}, {"3", {60, 4.5}}};
  const NameSetting setting = set_names(rows, font, rooms, std::nullopt, nullptr, "n.csv");
  EXPECT_NEAR(setting.height_mm, 4.0, 0.005);
  ASSERT_EQ(setting.by_slot.size(), 3u);
  InkBox all;
  for (const auto& [slot, passes] : setting.by_slot) {
    const InkBox box = ink_of(*passes);
    EXPECT_NEAR(box.centre().x(), 0.0, 0.001) << slot;
    all.hold(box);
  }
  EXPECT_NEAR(all.size().y(), setting.height_mm, 0.005);
  EXPECT_NEAR(all.centre().y(), 0.0, 0.005);
  // the same size: "A" of Ava is as tall as "U" of Une is, but for the round bottom's overshoot
  EXPECT_NEAR(ink_of(*setting.by_slot.at("1")).size().y(), ink_of(*setting.by_slot.at("3")).size().y(), 0.1);
}

TEST(SetNames, RefusesOverflowByName) {
  REQUIRE_FONT(font);
  const auto rows = read_name_list("slot,text\n1,Ava\n2,Wilhelmina Longname\n", "n.csv");
  const std::map<std::string, TextRoom> rooms = {{"1", {30, 4.5}}, {"2", {30, 4.5}}};
  const std::string wide =
      test::input_error_text([&] { (void)set_names(rows, font, rooms, std::nullopt, nullptr, "n.csv"); });
  EXPECT_NE(wide.find("slot 2 (\"Wilhelmina Longname\")"), std::string::npos) << wide;
  // the height that is offered works
  const std::size_t at = wide.find("--text-height ") + 14;
  EXPECT_EQ(set_names(rows, font, rooms, std::stod(wide.substr(at)), nullptr, "n.csv").by_slot.size(), 2u) << wide;
  const std::string tall = test::input_error_text([&] { (void)set_names(rows, font, rooms, 5.0, nullptr, "n.csv"); });
  EXPECT_NE(tall.find("slot 1 (\"Ava\")"), std::string::npos) << tall;
  EXPECT_NE(tall.find("4.50 mm"), std::string::npos) << tall;
}

}  // namespace
}  // namespace jigtrue
