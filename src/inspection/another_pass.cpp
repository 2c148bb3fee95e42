#include "jigtrue/inspection/another_pass.hpp"

#include "jigtrue/inspection/apply_beam.hpp"
#include "jigtrue/layout/apply_machine.hpp"

#include <cstddef>
#include <string>

namespace jigtrue {
namespace {

// What place_designs takes for a slot: found, and nothing in its way.
SlotNumbers numbers_at(const Vector2d& centre_mm, double axis_deg) {
  SlotNumbers numbers;
  numbers.centre_mm = centre_mm;
  numbers.axis_deg = axis_deg;
  numbers.along_mm = 0.0;
  numbers.uncertainty.along_mm = 0.0;
  return numbers;
}

std::string why_not(const InspectedSlot& slot) {
  return slot.state == MarkState::marked
             ? "it carries its mark"
             : std::string(to_string(slot.state)) + (slot.reasons.empty() ? "" : ": " + slot.reasons.front());
}

}  // namespace

Placement another_pass(const InspectionResult& result, const LaidLoad& laid) {
  CheckResult wanted = result.blanks;
  wanted.notes.clear();
  wanted.beam_applied.reset();
  wanted.machine_applied = false;
  wanted.machine = laid.machine_reading;
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    const InspectedSlot& slot = result.slots[i];
    SlotResult& place = wanted.slots[i];
    const bool wants = slot.wants_another_pass && result.beam.has_value();
    if (wants && slot.mark_mm)
      place.numbers = numbers_at(*slot.mark_mm, *slot.mark_deg);
    else if (wants && place.numbers)
      place.numbers = numbers_at(place.numbers->centre_mm, place.numbers->axis_deg);
    else
      place.numbers.reset();
    place.state = place.numbers ? SlotState::found : SlotState::empty;
    place.reasons.clear();
    if (!place.numbers) place.reasons = {why_not(slot)};
    place.design.reset();
    place.design_fits.reset();
  }
  if (laid.machine_applied && wanted.machine) apply_machine(wanted);
  if (const auto offset = result.beam_offset()) apply_beam(*offset, "this load's marks", wanted);
  Placement placement = place_designs(wanted, laid.machine, result.art);
  for (LeftOut& left : placement.left_out)
    for (const InspectedSlot& slot : result.slots)
      if (slot.id == left.slot_id) left.reason = why_not(slot);
  return placement;
}

}  // namespace jigtrue
