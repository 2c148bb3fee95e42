#include "jigtrue/measurement/slot_result.hpp"

#include "jigtrue/measurement/readiness.hpp"

#include <algorithm>

namespace jigtrue {

const char* to_string(SlotState state) {
  switch (state) {
    case SlotState::found:
      return "found";
    case SlotState::empty:
      return "empty";
    case SlotState::mismatch:
      return "mismatch";
    case SlotState::doubtful:
      return "doubtful";
  }
  return "doubtful";
}

bool tells_of_load(const SlotResult& slot) {
  constexpr double kTold_mm = 0.5;  // see the declaration
  return slot.numbers && slot.numbers->uncertainty.across_mm <= kTold_mm;
}

bool CheckResult::needs_person() const { return !std::all_of(slots.begin(), slots.end(), is_ready); }

}  // namespace jigtrue
