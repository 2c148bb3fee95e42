// Artwork that comes after the check: whether it fits the slots that were measured, and what letters may take there.
#pragma once
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/layout/name_list.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>

namespace jigtrue {

// The room about the design's centre with the uncertainty taken off, and no more than the declared design. Nothing for
// a slot that was not found. Throws InputError when the result tells of no room there.
[[nodiscard]] std::optional<TextRoom> text_room(const SlotResult& slot);

// Sets each slot's design to the artwork that it gets, as it will be burned, and whether that fits. `wrap` squeezes the
// artwork of round blanks first (layout/design_art.hpp): then `art` holds what will be burned.
void fit_artwork(CheckResult& result, DesignArt& art, bool wrap);

}  // namespace jigtrue
