#include "jigtrue/history/trend.hpp"

#include <algorithm>

namespace jigtrue {
namespace {

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

}  // namespace

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

}  // namespace jigtrue
