// What the empty photo changes in what was measured: slots that look as they did are empty, what lies over a slot or
// beside it covers it, and an end where nothing has changed is none of a blank's.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/changed_cells.hpp"
#include "jigtrue/measurement/slot_result.hpp"

namespace jigtrue {

// A slot's part of the picture against the empty photo, `expected` being where its blank should lie.
struct SlotChange {
  PartChange within;
  PartChange beside;
  [[nodiscard]] bool as_it_was() const;
  [[nodiscard]] bool covered() const;
};
[[nodiscard]] SlotChange change_of_slot(const ChangedCells& changes, const Camera& camera, const Slot& slot,
                                        const BlankPlace& expected);

// `result` of measuring the slot in the load.
void judge_by_empty(const ChangedCells& changes, const Camera& camera, const Slot& slot, const BlankPlace& expected,
                    SlotResult& result);

}  // namespace jigtrue
