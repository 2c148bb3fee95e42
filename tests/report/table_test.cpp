#include "jigtrue/report/table.hpp"

#include "jigtrue/report/standing.hpp"
#include "support/sample_result.hpp"

#include <algorithm>
#include <sstream>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

std::vector<std::string> lines(const std::string& text) {
  std::vector<std::string> out;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) out.push_back(line);
  return out;
}

TEST(Headline, CountsAndNamesWhoNeedsAPerson) {
  CheckResult result = test::sample_result();
  EXPECT_EQ(headline(result), "3 of 8 slots ready. These need you: 3, 4, 5, 6, 7.");
  EXPECT_EQ(headline(result, 2), "3 of 8 slots ready. These need you: 3, 4 and 3 more.");
  result.slots = {result.slots[0], result.slots[4]};
  EXPECT_EQ(headline(result), "1 of 2 slots ready. This one needs you: 5.");
  result.slots.pop_back();
  EXPECT_EQ(headline(result), "The slot is ready.");
  result.slots.push_back(result.slots[0]);
  EXPECT_EQ(headline(result), "All 2 slots are ready.");
}

TEST(Headline, AgreesWithWhetherAPersonIsNeeded) {
  CheckResult result = test::sample_result();
  for (const SlotResult& slot : test::sample_result().slots) {
    result.slots = {slot};
    EXPECT_EQ(result.needs_person(), standing(slot) != Standing::ready) << slot.id;
    EXPECT_EQ(result.needs_person(), !needing_person(result).empty()) << slot.id;
  }
}

TEST(ResultTable, AlignsItsColumns) {
  const auto rows = lines(result_table(test::sample_result()));
  ASSERT_GT(rows.size(), 9u);
  // right-aligned: every number of a column ends where its heading ends
  for (const char* head : {"along mm", "across mm", "turn deg"}) {
    const std::size_t end = rows[0].find(head) + std::string(head).size();
    for (std::size_t i = 1; i <= 8; ++i) {
      EXPECT_NE(rows[i][end - 1], ' ') << rows[i];
      EXPECT_EQ(rows[i][end], ' ') << rows[i];
    }
  }
  EXPECT_NE(rows[1].find("+0.82"), std::string::npos);
  EXPECT_NE(rows[4].find("DOES NOT FIT"), std::string::npos);
}

TEST(ResultTable, SaysWhatEachSlotNeeds) {
  const std::string text = result_table(test::sample_result());
  EXPECT_NE(text.find("slot 5: empty: load a blank or leave it out\n"), std::string::npos);
  EXPECT_NE(text.find("slot 3: mismatch (diameter 9.6 mm, not 11.0 mm): "), std::string::npos);
  EXPECT_NE(text.find("slot 4: the design does not fit: the design is 5.0 mm high"), std::string::npos);
  EXPECT_NE(text.find("slot 6: doubtful (glare"), std::string::npos);
  EXPECT_NE(text.find("slot 7: its place along was not measured, needed is +/- 1.00 mm: leave both its ends"),
            std::string::npos);
  EXPECT_EQ(text.find("slot 1:"), std::string::npos);
}

TEST(ResultTable, GivesTheSlotsOwnRemedyInsteadOfTheUsual) {
  CheckResult result = test::sample_result();
  result.slots[2].reasons = {"turned end for end"};
  result.slots[2].remedy = "take it out and turn it round";
  result.slots[5].reasons = {"two sizes explain the picture, 9.6 mm: 11.0 mm"};
  result.slots[5].remedy = "measure the blank with callipers";
  const std::string text = result_table(result);
  EXPECT_NE(text.find("slot 3: mismatch (turned end for end): take it out and turn it round\n"), std::string::npos);
  EXPECT_NE(text.find("slot 6: doubtful (two sizes explain the picture, 9.6 mm: 11.0 mm): measure the blank with "
                      "callipers, and take a new photo\n"),
            std::string::npos);
}

TEST(ResultTable, SendsNoControlCharactersToTheTerminal) {
  CheckResult result = test::sample_result();
  result.slots[4].id = "\x1B[2J\xC3\xA4\n";
  result.slots[5].reasons = {"\x07\x1B]0;title"};
  const std::string text = result_table(result);
  EXPECT_TRUE(
      std::none_of(text.begin(), text.end(), [](unsigned char c) { return c != '\n' && (c < 0x20 || c == 0x7F); }));
  EXPECT_NE(text.find("?[2J\xC3\xA4?"), std::string::npos);
}

}  // namespace
}  // namespace jigtrue
