// What many checks say, for people.
#pragma once
#include "jigtrue/history/trend.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// For a terminal.
[[nodiscard]] std::string trend_text(const Trend& trend);
// A page with charts, whole in itself.
[[nodiscard]] std::string trend_html(const std::vector<Trend>& trends);

}  // namespace jigtrue
