// What the record of many checks says: drift of the camera, how the fixture is put down, how blanks lie in each slot.
#pragma once
#include "jigtrue/base/series.hpp"
#include "jigtrue/history/load_record.hpp"

#include <string>
#include <vector>

namespace jigtrue {

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

}  // namespace jigtrue
