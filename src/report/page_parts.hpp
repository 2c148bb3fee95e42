// The parts of report.html, each as markup.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <string>

namespace jigtrue::page {

[[nodiscard]] std::string style_sheet(const CheckResult& result);
// The picture with its layers: outlines, centrelines, designs, names; each slot links to its row "#row-N" (N from 1).
[[nodiscard]] std::string picture(const CheckResult& result, const std::string& picture_jpeg);
[[nodiscard]] std::string slot_table(const CheckResult& result);
// One <details> for each slot with numbers: its uncertainty's contributions as bars.
[[nodiscard]] std::string budgets(const CheckResult& result);

}  // namespace jigtrue::page
