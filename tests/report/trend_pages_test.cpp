#include "jigtrue/report/trend_pages.hpp"

#include "support/sample_loads.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

TEST(TrendPages, TellAndDrawEachFixtureApart) {
  CheckRecords records = test::loads(test::two_slots(), 10, 0.2, 0.05, 8);
  LoadRecord other = records.loads[0];
  other.fixture = "<other> & jig";
  records.loads.push_back(other);
  records.damaged = 2;
  const std::vector<Trend> trends = trends_of(records);
  ASSERT_EQ(trends.size(), 2U);
  const std::string text = trend_text(trends[0]);
  EXPECT_NE(text.find("invented jig: 10 loads"), std::string::npos);
  const std::string page = trend_html(trends);
  EXPECT_NE(page.find("&lt;other&gt; &amp; jig"), std::string::npos);
  EXPECT_NE(page.find("2 damaged lines"), std::string::npos);
  EXPECT_EQ(page.find("\"nan"), std::string::npos);
  // ten loads have charts with a scale; one load shows nothing yet
  EXPECT_NE(page.find("class=\"grid\""), std::string::npos);
  EXPECT_NE(page.find("There is nothing to see yet: charts begin with the third load."), std::string::npos);
  EXPECT_EQ(trend_html({trends[1]}).find("<svg"), std::string::npos);
  EXPECT_EQ(page.find("http"), page.find("http-equiv"));  // nothing is fetched
}

}  // namespace
}  // namespace jigtrue
