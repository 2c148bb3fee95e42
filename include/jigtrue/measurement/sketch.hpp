// What to draw of a slot on its photo.
#pragma once
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>

namespace jigtrue {

// `measured`: nothing when no blank was measured; then only the nominal things are drawn.
[[nodiscard]] SlotSketch sketch_slot(const Camera& camera, const Slot& slot, const BlankPlace& expected,
                                     const std::optional<BlankPlace>& measured);

}  // namespace jigtrue
