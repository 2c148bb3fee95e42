// The parts of the pages, each as markup: the frame that all share, and those of report.html.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <string>

namespace jigtrue::page {

// From the doctype to the head's end: nothing is fetched (a content security policy forbids it), no script runs. The
// title is plain text.
[[nodiscard]] std::string head(const std::string& title, const std::string& style);
// What every page looks like, light, dark and printed.
[[nodiscard]] std::string base_style();
// The same with the pairs of slots and rows that light up together.
[[nodiscard]] std::string style_sheet(const CheckResult& result);
// The picture with its layers: outlines, centrelines, designs, names; each slot links to its row "#row-N" (N from 1).
[[nodiscard]] std::string picture(const CheckResult& result, const std::string& picture_jpeg);
[[nodiscard]] std::string slot_table(const CheckResult& result);
// One <details> for each slot with numbers: its uncertainty's contributions as bars.
[[nodiscard]] std::string budgets(const CheckResult& result);

}  // namespace jigtrue::page
