#include "jigtrue/base/text.hpp"
#include "jigtrue/report/local_time.hpp"
#include "jigtrue/report/trend_pages.hpp"

#include <algorithm>

namespace jigtrue {
namespace {

std::string series_line(const std::string& name, const Series& series, const std::string& unit, int decimals) {
  if (series.values.empty()) return "  " + name + ": not measured\n";
  std::string out = "  " + name + ": mean " + signed_text(series.mean, decimals) + " " + unit + ", spread " +
                    fixed_text(series.spread, decimals) + ", last " + signed_text(series.values.back(), decimals);
  if (series.low)
    out += ", limits " + signed_text(*series.low, decimals) + " to " + signed_text(*series.high, decimals);
  if (series.last_is_out()) out += "  <- the last lies outside";
  return out + "\n";
}

std::string padded(std::string text, std::size_t width) {
  text.insert(0, text.size() < width ? width - text.size() : 0, ' ');
  return text;
}

std::string series_cell(const Series& series) {
  if (series.values.empty()) return padded("-", 16);
  return padded(signed_text(series.mean, 2) + " (" + fixed_text(series.spread, 2) + ")", 16);
}

}  // namespace

std::string trend_text(const Trend& trend) {
  std::string out = terminal_text(trend.fixture) + ": " + std::to_string(trend.loads.size()) +
                    (trend.loads.size() == 1 ? " load, " : " loads, ") +
                    terminal_text(local_time(trend.loads.front().time)) + " to " +
                    terminal_text(local_time(trend.loads.back().time)) + "\n";
  out += series_line("camera, largest drift of a bed mark", trend.drift_px, "px", 2);
  out += series_line("fixture, shift to the right", trend.shift_x_mm, "mm", 2);
  out += series_line("fixture, shift away from you", trend.shift_y_mm, "mm", 2);
  out += series_line("fixture, turn", trend.turn_deg, "deg", 3);
  out += "  slot    found       across mm        along mm        turn deg   (mean, spread in brackets)\n";
  for (const SlotTrend& slot : trend.slots) {
    const std::size_t found = slot.across_mm.values.size();
    const auto all = found + static_cast<std::size_t>(slot.not_found);
    out += "  " + terminal_cell(slot.id, 6) + padded(std::to_string(found) + "/" + std::to_string(all), 7) +
           series_cell(slot.across_mm) + series_cell(slot.along_mm) + series_cell(slot.turn_deg);
    if (slot.across_mm.last_is_out()) out += "  <- the last lies outside its limits across";
    out += "\n";
  }
  return out;
}

}  // namespace jigtrue
