#include "jigtrue/measurement/slot_result.hpp"

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

bool CheckResult::needs_person() const {
  return std::any_of(slots.begin(), slots.end(), [](const SlotResult& slot) {
    return slot.state != SlotState::found || !slot.design_fits.value_or(true);
  });
}

}  // namespace jigtrue
