// What the empty photo changes in what was measured: slots that look as they did are empty, what lies over a slot or
// beside it covers it, and an end where nothing has changed is none of a blank's.
#pragma once
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/measurement/empty_view.hpp"
#include "jigtrue/measurement/measure_slot.hpp"

namespace jigtrue {

// A slot's part of the picture against the empty photo, `expected` being where its blank should lie.
struct SlotChange {
  PartChange within;
  PartChange beside;
  [[nodiscard]] bool as_it_was() const;
  [[nodiscard]] bool covered() const;
};
[[nodiscard]] SlotChange change_of_slot(const EmptyView& empty, const Camera& camera, const Slot& slot,
                                        const BlankPlace& expected);

// `result` of measuring the slot in the load.
void judge_by_empty(const EmptyView& empty, const Camera& camera, const Slot& slot, const BlankPlace& expected,
                    SlotResult& result);

}  // namespace jigtrue
