#include "jigtrue/inspection/inspection_result.hpp"

#include <algorithm>

namespace jigtrue {

const char* to_string(MarkState state) {
  switch (state) {
    case MarkState::marked:
      return "marked";
    case MarkState::unmarked:
      return "unmarked";
    case MarkState::doubtful:
      break;
  }
  return "doubtful";
}

std::optional<BeamOffset> InspectionResult::beam_offset() const {
  if (!beam) return std::nullopt;
  return BeamOffset{
      beam->about_mm, beam->shift_mm, beam->turn_deg, beam->own_u_mm, beam->own_turn_u_deg, beam->stretch, 1,
      machine_applied};
}

bool InspectionResult::needs_person() const {
  return std::any_of(slots.begin(), slots.end(), [](const InspectedSlot& slot) {
    return slot.is_due && (slot.state != MarkState::marked || !slot.reasons.empty());
  });
}

}  // namespace jigtrue
