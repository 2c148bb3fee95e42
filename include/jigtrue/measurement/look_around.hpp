// What lies in the photo and belongs to no slot: blanks that all lie elsewhere than the file says, and one more blank
// beyond the end of a row.
#pragma once
#include "jigtrue/measurement/measure_slot.hpp"

#include <functional>
#include <vector>

namespace jigtrue {

// The slots' tasks, and how any such task is searched and measured in this photo.
struct SlotSight {
  const std::vector<SlotTask>& tasks;
  std::function<CoarseFinding(const SlotTask&, const SearchRange&)> search;
  std::function<SlotResult(const SlotTask&)> measure;  // what the search saw given
  int threads = 1;                                     // that may search and measure at once
};

// To be called once all slots are measured. Where few of them hold what they should, looks for their blanks farther
// off, all by the same way; and one slot's distance beyond either end of a row. What it finds is told, and slots that
// were read against it are put in doubt; then it returns true.
bool look_around(const SlotSight& sight, const Fixture& fixture, PhotoFindings& result);

}  // namespace jigtrue
