#include "jigtrue/report/report_html.hpp"

#include "support/html.hpp"
#include "support/patterns.hpp"
#include "support/sample_result.hpp"

#include <map>
#include <set>
#include <stdexcept>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

const ReportOptions kPageOptions{"2024-05-01T12:00:00Z", "0.1.0", std::nullopt};

std::string page(const CheckResult& result) { return report_html(result, "not really a picture", kPageOptions); }

TEST(ReportHtml, AsksNothingOfTheOutside) {
  const std::string html = page(test::sample_result());
  EXPECT_EQ(html.find("http://"), std::string::npos);
  EXPECT_EQ(html.find("https://"), std::string::npos);
  EXPECT_EQ(html.find("<script"), std::string::npos);
  EXPECT_EQ(html.find("@import"), std::string::npos);
  EXPECT_EQ(html.find("url("), std::string::npos);
  EXPECT_NE(html.find("default-src 'none'"), std::string::npos);
  for (const test::Match& match : test::all_matches(html, R"re((?:href|src)="([^"]*)")re")) {
    const std::string& target = match[1];
    EXPECT_TRUE(target.starts_with('#') || target.starts_with("data:image/jpeg;base64,")) << target.substr(0, 60);
  }
  EXPECT_NE(html.find("base64,bm90IHJlYWxseSBhIHBpY3R1cmU=\""), std::string::npos);  // RFC 4648, by another encoder
}

TEST(ReportHtml, SaysAtOnceWhoNeedsAPerson) {
  const std::string html = page(test::sample_result());
  EXPECT_NE(html.find("<h1>3 of 8 slots ready. These need you: 3, 4, 5, 6, 7.</h1>"), std::string::npos);
  EXPECT_NE(html.find("empty: load a blank or leave it out."), std::string::npos);
  EXPECT_EQ(page(CheckResult{test::sample_result()}).find("NaN"), std::string::npos);
}

TEST(ReportHtml, LinksEverySlotToItsRowAndBack) {
  const CheckResult result = test::sample_result();
  const std::string html = page(result);
  std::map<std::string, int> ids;
  for (const test::Match& match : test::all_matches(html, R"re( id="([^"]*)")re")) ++ids[match[1]];
  for (const auto& [name, times] : ids) EXPECT_EQ(times, 1) << name;
  for (const test::Match& match : test::all_matches(html, R"re((?:href|for|aria-labelledby)="#?([a-z][^":]*)")re")) {
    EXPECT_EQ(ids.count(match[1]), 1u) << match[1];
  }
  for (std::size_t i = 1; i <= result.slots.size(); ++i) {
    EXPECT_EQ(ids.count("row-" + std::to_string(i)), 1u);
    EXPECT_EQ(ids.count("pic-" + std::to_string(i)), 1u);
  }
}

TEST(ReportHtml, HasATableThatReadsAloud) {
  const std::string html = page(test::sample_result());
  EXPECT_EQ(test::occurrences(html, "<caption>"), 1u);
  EXPECT_EQ(test::occurrences(html, "scope=\"col\""), 7u);
  EXPECT_EQ(test::occurrences(html, "scope=\"row\""), 8u);
  EXPECT_NE(html.find("+0.82</b>&nbsp;mm"), std::string::npos);
  EXPECT_NE(html.find("&minus;0.18</b>&deg;"), std::string::npos);
  EXPECT_NE(html.find("lang=\"en\""), std::string::npos);
}

TEST(ReportHtml, WarnsOfTheLasersDangers) {
  const std::string html = page(test::sample_result());
  for (const char* word :
       {"Eyes", "interlocks", "Fumes", "extinguisher", "PVC", "maker's manual", "local codes", "licensed"}) {
    EXPECT_NE(html.find(word), std::string::npos) << word;
  }
}

TEST(ReportHtml, IsWellFormed) { test::expect_balanced(page(test::sample_result())); }

TEST(ReportHtml, EscapesHostileText) {
  const std::string evil = "\"><script>alert('1')</script>&\x01\xFF";
  CheckResult result = test::sample_result();
  result.photo_file = result.fixture_name = evil;
  result.notes = {evil};
  result.placement->from = evil;
  for (SlotResult& slot : result.slots) {
    slot.id = evil;
    slot.design_note = evil;
    slot.reasons = {evil};
    if (slot.numbers) slot.numbers->budget[0].name = evil;
  }
  const std::string html = report_html(result, "x", {evil, evil, std::nullopt});
  test::expect_balanced(html);
  EXPECT_EQ(html.find("<script"), std::string::npos);
  EXPECT_EQ(html.find('\x01'), std::string::npos);
  EXPECT_EQ(html.find('\xFF'), std::string::npos);
  EXPECT_NE(html.find("&quot;&gt;&lt;script&gt;alert(&#39;1&#39;)&lt;/script&gt;&amp;"), std::string::npos);
}

TEST(ReportHtml, RefusesWhatIsNotFinite) {
  CheckResult result = test::sample_result();
  result.slots[0].numbers->across_mm = std::numeric_limits<double>::infinity();
  EXPECT_THROW((void)page(result), std::logic_error);
}

TEST(ReportHtml, BearsAResultWithoutSketchesOrNumbers) {
  CheckResult result;
  result.slots.resize(2);
  result.slots[0].id = "a";
  result.slots[1].id = "b";
  const std::string html = page(result);
  test::expect_balanced(html);
  EXPECT_NE(html.find("0 of 2 slots ready"), std::string::npos);
}

}  // namespace
}  // namespace jigtrue
