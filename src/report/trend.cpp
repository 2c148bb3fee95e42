#include "jigtrue/report/trend.hpp"

#include "jigtrue/layout/text.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestForLimits = 8;

SlotTrend& slot_trend(Trend& trend, const std::string& id) {
  for (SlotTrend& slot : trend.slots)
    if (slot.id == id) return slot;
  trend.slots.emplace_back();
  trend.slots.back().id = id;
  return trend.slots.back();
}

void add(Series& series, std::size_t at, double value) {
  series.at.push_back(at);
  series.values.push_back(value);
}

void finish(Series& series) { series = series_of(series.at, series.values); }

void fill(Trend& trend) {
  for (std::size_t i = 0; i < trend.loads.size(); ++i) {
    const LoadRecord& load = trend.loads[i];
    if (load.witness && load.witness->seen > 0) add(trend.drift_px, i, load.witness->largest_px);
    if (load.placement) {
      add(trend.shift_x_mm, i, load.placement->shift_mm.x());
      add(trend.shift_y_mm, i, load.placement->shift_mm.y());
      add(trend.turn_deg, i, load.placement->turn_deg);
    }
    for (const SlotLoad& slot : load.slots) {
      SlotTrend& own = slot_trend(trend, slot.id);
      if (!slot.measured) {
        ++own.not_found;
        continue;
      }
      add(own.across_mm, i, slot.across_mm);
      if (slot.along_mm) add(own.along_mm, i, *slot.along_mm);
      add(own.turn_deg, i, slot.turn_deg);
      own.u_across_mm += slot.u_across_mm;
    }
  }
  for (Series* series : {&trend.drift_px, &trend.shift_x_mm, &trend.shift_y_mm, &trend.turn_deg}) finish(*series);
  for (SlotTrend& slot : trend.slots) {
    if (!slot.across_mm.values.empty()) slot.u_across_mm /= static_cast<double>(slot.across_mm.values.size());
    for (Series* series : {&slot.across_mm, &slot.along_mm, &slot.turn_deg}) finish(*series);
  }
}

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

// Two-sided 95 % of Student's t: Cornish and Fisher's expansion about the normal point (Abramowitz & Stegun 26.7.5),
// within 1 % from four degrees of freedom on.
double students_t(double freedom) {
  return 1.960 + 2.372 / freedom + 2.823 / (freedom * freedom) + 2.556 / std::pow(freedom, 3.0);
}

struct Mean {
  int count = 0;
  double mean = 0.0;
  double spread = 0.0;
  [[nodiscard]] bool justified(double least) const {
    if (count < kFewestLoads) return false;
    const double own = students_t(count - 1.0) * spread / std::sqrt(static_cast<double>(count));
    return std::abs(mean) > std::max({own, 0.5 * spread, least});
  }
};

Mean mean_of(const std::vector<double>& values) {
  const Series series = series_of(std::vector<std::size_t>(values.size(), 0), values);
  return {static_cast<int>(values.size()), series.mean, series.spread};
}

struct SlotLoads {
  std::vector<double> across, along, turn;
  double u_across = 0.0;
  int elsewhere = 0;  // loads in which the slot stood at another nominal place
};

SlotLoads loads_of(const CheckRecords& records, const Fixture& fixture, const Slot& slot) {
  SlotLoads loads;
  for (const LoadRecord& load : records.loads) {
    if (load.fixture != fixture.name) continue;
    for (const SlotLoad& seen : load.slots) {
      if (seen.id != slot.id || !seen.measured) continue;
      if ((seen.nominal_mm - slot.centre_mm).norm() > 0.002 ||
          std::abs(seen.nominal_axis_deg - slot.axis_deg) > 0.002) {
        ++loads.elsewhere;
        continue;
      }
      loads.across.push_back(seen.across_mm);
      if (seen.along_mm) loads.along.push_back(*seen.along_mm);
      loads.turn.push_back(seen.turn_deg);
      loads.u_across += seen.u_across_mm;
    }
  }
  if (!loads.across.empty()) loads.u_across /= static_cast<double>(loads.across.size());
  return loads;
}

}  // namespace

bool Series::last_is_out() const { return low && !values.empty() && (values.back() < *low || values.back() > *high); }

Series series_of(const std::vector<std::size_t>& at, const std::vector<double>& values) {
  Series series;
  series.at = at;
  series.values = values;
  if (values.empty()) return series;
  const double n = static_cast<double>(values.size());
  for (const double v : values) series.mean += v / n;
  if (values.size() < 2) return series;
  double squares = 0.0;
  double ranges = 0.0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    squares += (values[i] - series.mean) * (values[i] - series.mean);
    if (i > 0) ranges += std::abs(values[i] - values[i - 1]);
  }
  series.spread = std::sqrt(squares / (n - 1.0));
  if (values.size() >= kFewestForLimits) {
    const double reach = 2.66 * ranges / (n - 1.0);
    series.low = series.mean - reach;
    series.high = series.mean + reach;
  }
  return series;
}

std::vector<Trend> trends_of(const CheckRecords& records) {
  std::vector<Trend> trends;
  for (const LoadRecord& load : records.loads) {
    auto own = std::find_if(trends.begin(), trends.end(), [&](const Trend& t) { return t.fixture == load.fixture; });
    if (own == trends.end()) {
      trends.emplace_back();
      own = trends.end() - 1;
      own->fixture = load.fixture;
      own->damaged = records.damaged;
    }
    own->loads.push_back(load);
  }
  for (Trend& trend : trends) fill(trend);
  return trends;
}

std::string trend_text(const Trend& trend) {
  std::string out = ascii_text(trend.fixture) + ": " + std::to_string(trend.loads.size()) +
                    (trend.loads.size() == 1 ? " load, " : " loads, ") + ascii_text(trend.loads.front().time) + " to " +
                    ascii_text(trend.loads.back().time) + "\n";
  out += series_line("camera, largest drift of a bed mark", trend.drift_px, "px", 2);
  out += series_line("fixture, shift to the right", trend.shift_x_mm, "mm", 2);
  out += series_line("fixture, shift away from you", trend.shift_y_mm, "mm", 2);
  out += series_line("fixture, turn", trend.turn_deg, "deg", 3);
  out += "  slot    found       across mm        along mm        turn deg   (mean, spread in brackets)\n";
  for (const SlotTrend& slot : trend.slots) {
    const std::size_t found = slot.across_mm.values.size();
    const auto all = found + static_cast<std::size_t>(slot.not_found);
    std::string id = ascii_text(slot.id);
    id.resize(std::max<std::size_t>(6, id.size()), ' ');
    out += "  " + id + padded(std::to_string(found) + "/" + std::to_string(all), 7) + series_cell(slot.across_mm) +
           series_cell(slot.along_mm) + series_cell(slot.turn_deg);
    if (slot.across_mm.last_is_out()) out += "  <- the last lies outside its limits across";
    out += "\n";
  }
  return out;
}

Settling settle(const CheckRecords& records, const Fixture& fixture) {
  constexpr double kLeastAcross_mm = 0.05;
  constexpr double kLeastAlong_mm = 0.2;
  constexpr double kLeastTurn_deg = 0.1;
  Settling settling;
  for (const Slot& slot : fixture.slots) {
    const SlotLoads loads = loads_of(records, fixture, slot);
    const Mean across = mean_of(loads.across);
    const Mean along = mean_of(loads.along);
    const Mean turn = mean_of(loads.turn);
    const double angle = rad_from_deg(slot.axis_deg);
    const Vector2d axis(std::cos(angle), std::sin(angle));
    SlotMove move;
    const bool by_across = across.justified(std::max(kLeastAcross_mm, loads.u_across));
    const bool by_along = along.justified(kLeastAlong_mm);
    const bool by_turn = turn.justified(kLeastTurn_deg);
    if (by_across) move.by_mm += across.mean * Vector2d(-axis.y(), axis.x());
    if (by_along) move.by_mm += along.mean * axis;
    if (by_turn) move.turn_deg = turn.mean;
    move.why = std::to_string(across.count) + " loads: across " + signed_text(across.mean, 3) + " mm (spread " +
               fixed_text(across.spread, 3) + "), along " + signed_text(along.mean, 3) + " mm (spread " +
               fixed_text(along.spread, 3) + "), turn " + signed_text(turn.mean, 3) + " deg (spread " +
               fixed_text(turn.spread, 3) + ")";
    std::string done;
    if (by_across) done += " across";
    if (by_along) done += std::string(done.empty() ? "" : ",") + " along";
    if (by_turn) done += std::string(done.empty() ? "" : ",") + " turned";
    std::string line = "slot " + slot.id + ": ";
    if (across.count < kFewestLoads) {
      line += "left: " + std::to_string(across.count) + " loads at this place, " + std::to_string(kFewestLoads) +
              " are needed";
      if (loads.elsewhere > 0)
        line += " (" + std::to_string(loads.elsewhere) + " more were made with the slot elsewhere)";
    } else if (done.empty()) {
      line += "left, its loads do not justify a move; " + move.why;
    } else {
      line += "moved" + done + "; " + move.why;
    }
    settling.lines.push_back(line);
    settling.moved += done.empty() ? 0 : 1;
    settling.moves.push_back(done.empty() ? std::nullopt : std::optional<SlotMove>(move));
  }
  return settling;
}

}  // namespace jigtrue
