// Where a fixture's slots should stand by what many loads have shown.
#pragma once
#include "jigtrue/fixture/move_slots.hpp"
#include "jigtrue/history/load_record.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

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
