#include "jigtrue/base/text.hpp"

#include <clocale>
#include <limits>
#include <stdexcept>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

TEST(NumberText, RoundsAndNeverWritesMinusZero) {
  EXPECT_EQ(fixed_text(1.23456, 3), "1.235");
  EXPECT_EQ(fixed_text(-0.0004, 3), "0.000");
  EXPECT_EQ(fixed_text(-0.0, 1), "0.0");
  EXPECT_EQ(fixed_text(-0.0006, 3), "-0.001");
  EXPECT_EQ(fixed_text(12.0, 0), "12");
}

TEST(NumberText, SignsAllButZero) {
  EXPECT_EQ(signed_text(0.824, 2), "+0.82");
  EXPECT_EQ(signed_text(-0.824, 2), "-0.82");
  EXPECT_EQ(signed_text(0.004, 2), "0.00");
  EXPECT_EQ(signed_text(-0.004, 2), "0.00");
}

TEST(NumberText, RefusesWhatIsNotFinite) {
  EXPECT_THROW((void)fixed_text(std::numeric_limits<double>::quiet_NaN(), 2), std::logic_error);
  EXPECT_THROW((void)fixed_text(-std::numeric_limits<double>::infinity(), 2), std::logic_error);
}

TEST(NumberText, HoldsTheLargestNumber) {
  EXPECT_EQ(fixed_text(-std::numeric_limits<double>::max(), 4).size(), 1 + 309 + 1 + 4u);
}

TEST(MarkupText, EscapesWhatMarkupReads) {
  EXPECT_EQ(markup_text("a<b>&\"'"), "a&lt;b&gt;&amp;&quot;&#39;");
  EXPECT_EQ(markup_text("line\nbreak\t"), "line&#10;break&#9;");
}

TEST(MarkupText, KeepsUtf8AndReplacesWhatXmlForbids) {
  EXPECT_EQ(markup_text("St\xC3\xA4nder \xE2\x9C\x93 \xF0\x9F\x96\x8A"),
            "St\xC3\xA4nder \xE2\x9C\x93 \xF0\x9F\x96\x8A");
  const std::string bad = "\xEF\xBF\xBD";
  EXPECT_EQ(markup_text(std::string("a\0b", 3)), "a" + bad + "b");
  EXPECT_EQ(markup_text("\x1B[31m"), bad + "[31m");
  EXPECT_EQ(markup_text("\xEF\xBF\xBF"), bad);                        // U+FFFF
  EXPECT_EQ(markup_text("\xC3"), bad);                                // cut off
  EXPECT_EQ(markup_text("\xC0\xBC"), bad + bad);                      // an overlong '<'
  EXPECT_EQ(markup_text("\xED\xA0\x80"), bad + bad + bad);            // a surrogate
  EXPECT_EQ(markup_text("\xF5\x80\x80\x80"), bad + bad + bad + bad);  // beyond U+10FFFF
}

TEST(AsciiText, ShowsAQuestionMarkForEachOtherCodePoint) {
  EXPECT_EQ(ascii_text("St\xC3\xA4nder 1~"), "St?nder 1~");
  EXPECT_EQ(ascii_text("\x1B]0;x\x07\x7F\n"), "?]0;x???");
}

TEST(TerminalText, KeepsNamesAsTheyAreAndNoControlCharacter) {
  EXPECT_EQ(terminal_text("St\xC3\xA4nder 1~"), "St\xC3\xA4nder 1~");
  EXPECT_EQ(terminal_text("\x1B]0;x\x07\x7F\n"), "?]0;x???");
  EXPECT_EQ(terminal_text("a\xC2\x9B"
                          "b\xFC"),
            "a?b?")
      << "a control character of two bytes, and a Latin-1 letter";
  EXPECT_EQ(terminal_cell("\xC3\xA4", 3), "\xC3\xA4  ");
}

TEST(Utf8, ReplacesBrokenBytesOnly) {
  EXPECT_EQ(valid_utf8("a\xFF\xC3\xA9"), "a\xEF\xBF\xBD\xC3\xA9");
  EXPECT_EQ(valid_utf8("tab\t"), "tab\t");
}

}  // namespace
}  // namespace jigtrue
