// What the record of many checks says: drift of the camera, how the fixture is put down, how blanks lie in each slot.
#pragma once
#include "jigtrue/fixture/move_slots.hpp"
#include "jigtrue/report/check_record.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// Mean and spread of a series, with the limits of a chart for single values: mean +/- 2.66 times the mean moving range
// (Shewhart's individuals chart; 2.66 = 3 / 1.128, from memory of the textbooks). Limits from eight values on.
struct Series {
  std::vector<std::size_t> at;  // index of the load
  std::vector<double> values;
  double mean = 0.0;
  double spread = 0.0;  // standard deviation; 0 with one value
  std::optional<double> low, high;
  [[nodiscard]] bool last_is_out() const;
};
[[nodiscard]] Series series_of(const std::vector<std::size_t>& at, const std::vector<double>& values);

struct SlotTrend {
  std::string id;
  int not_found = 0;  // loads in which it was not found
  Series across_mm, along_mm, turn_deg;
  double u_across_mm = 0.0;  // mean of the single loads' 95 %
};

struct Trend {
  std::string fixture;
  std::vector<LoadRecord> loads;  // of that fixture
  int damaged = 0;
  Series drift_px;
  Series shift_x_mm, shift_y_mm, turn_deg;
  std::vector<SlotTrend> slots;
};
// One for each fixture's name, in the order of their first load.
[[nodiscard]] std::vector<Trend> trends_of(const CheckRecords& records);

// For a terminal.
[[nodiscard]] std::string trend_text(const Trend& trend);
// A page with charts, whole in itself.
[[nodiscard]] std::string trend_html(const std::vector<Trend>& trends);

// Where slots would have to stand to be where their loads have been found. A slot is moved only when at least
// kFewestLoads loads of its present nominal place agree on it: the mean differs from nothing by more than its own
// uncertainty (Student's t, 95 %), by more than half its spread, and by more than a single load's stated uncertainty
// across, which no number of loads averages out.
inline constexpr int kFewestLoads = 5;
struct Settling {
  std::vector<std::optional<SlotMove>> moves;  // in the fixture's order
  std::vector<std::string> lines;              // one for each slot, for the person
  int moved = 0;
};
[[nodiscard]] Settling settle(const CheckRecords& records, const Fixture& fixture);

}  // namespace jigtrue
