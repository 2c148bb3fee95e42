#include "jigtrue/report/offsets_csv.hpp"

#include "support/sample_result.hpp"

#include <algorithm>
#include <stdexcept>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using Record = std::vector<std::string>;

// RFC 4180 by its grammar: records end with CR LF, quotes are doubled within quoted cells.
std::vector<Record> parse(const std::string& text) {
  std::vector<Record> records(1, Record(1));
  for (std::size_t i = 0; i < text.size(); ++i) {
    std::string& cell = records.back().back();
    if (text[i] == '"') {
      if (!cell.empty()) throw std::runtime_error("a quote within an unquoted cell");
      for (++i;; ++i) {
        if (i >= text.size()) throw std::runtime_error("a quoted cell does not end");
        if (text[i] != '"') {
          cell.push_back(text[i]);
        } else if (i + 1 < text.size() && text[i + 1] == '"') {
          cell.push_back(text[++i]);
        } else {
          break;
        }
      }
    } else if (text[i] == ',') {
      records.back().emplace_back();
    } else if (text[i] == '\r') {
      if (i + 1 >= text.size() || text[++i] != '\n') throw std::runtime_error("CR without LF");
      if (i + 1 < text.size()) records.emplace_back(1);
    } else if (text[i] == '\n') {
      throw std::runtime_error("LF without CR");
    } else {
      cell.push_back(text[i]);
    }
  }
  return records;
}

std::string value(const std::vector<Record>& records, std::size_t row, const std::string& column) {
  const auto at = std::find(records[0].begin(), records[0].end(), column);
  if (at == records[0].end()) throw std::runtime_error("no column " + column);
  return records[row][static_cast<std::size_t>(at - records[0].begin())];
}

TEST(OffsetsCsv, HasOneFullRowForEachSlot) {
  const CheckResult result = test::sample_result();
  const auto records = parse(offsets_csv(result));
  ASSERT_EQ(records.size(), result.slots.size() + 1);
  for (const Record& record : records) EXPECT_EQ(record.size(), records[0].size());
  EXPECT_EQ(value(records, 1, "slot"), "1");
  EXPECT_EQ(value(records, 1, "state"), "found");
  EXPECT_EQ(value(records, 1, "offset_x_mm"), "0.8212");
  EXPECT_EQ(value(records, 1, "offset_y_mm"), "0.4948");
  EXPECT_EQ(value(records, 1, "along_mm"), "0.8212");
  EXPECT_EQ(value(records, 1, "across_mm"), "0.4948");
  EXPECT_EQ(value(records, 1, "rotation_deg"), "-0.1800");
  EXPECT_EQ(value(records, 1, "u95_along_mm"), "0.2000");
  EXPECT_EQ(value(records, 1, "u95_across_mm"), "0.0500");
  EXPECT_EQ(value(records, 1, "u95_rotation_deg"), "0.0300");
  EXPECT_EQ(value(records, 1, "centre_x_mm"), "200.8212");
  EXPECT_EQ(value(records, 1, "axis_deg"), "-0.1800");
  EXPECT_EQ(value(records, 1, "diameter_mm"), "11.0200");
  EXPECT_EQ(value(records, 1, "design_fits"), "yes");
  EXPECT_EQ(value(records, 4, "design_fits"), "no");
  EXPECT_EQ(value(records, 1, "ready"), "yes");
  for (const std::size_t row : {3u, 4u, 5u, 6u, 7u}) EXPECT_EQ(value(records, row, "ready"), "no") << row;
  EXPECT_EQ(value(records, 3, "reasons"), "diameter 9.6 mm, not 11.0 mm");
}

TEST(OffsetsCsv, LeavesCellsEmptyForWhatWasNotMeasured) {
  const auto records = parse(offsets_csv(test::sample_result()));
  for (const char* column : {"offset_x_mm", "along_mm", "across_mm", "u95_across_mm", "diameter_mm", "design_fits"}) {
    EXPECT_EQ(value(records, 5, column), "") << column;
  }
  EXPECT_EQ(value(records, 7, "along_mm"), "");
  EXPECT_EQ(value(records, 7, "u95_along_mm"), "");
  EXPECT_EQ(value(records, 7, "across_mm"), "0.5237");
}

TEST(OffsetsCsv, QuotesHostileIds) {
  CheckResult result = test::sample_result();
  result.slots[0].id = "a,\"b\"\r\nc";
  result.slots[1].id = "St\xC3\xA4nder";
  const auto records = parse(offsets_csv(result));
  ASSERT_EQ(records.size(), result.slots.size() + 1);
  EXPECT_EQ(value(records, 1, "slot"), "a,\"b\"\r\nc");
  EXPECT_EQ(value(records, 2, "slot"), "St\xC3\xA4nder");
}

}  // namespace
}  // namespace jigtrue
