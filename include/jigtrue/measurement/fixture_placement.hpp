// How the whole fixture stands against its nominal place.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

// Shift of the slots' common centre and turn about it, fitted to the measured slots. Blanks slide along their slots and
// lie a little askew in them, so across positions count most, directions less, places along least. Nothing with fewer
// than two measured slots.
[[nodiscard]] std::optional<FixturePlacement> placement_from_slots(const Fixture& fixture,
                                                                   const std::vector<SlotResult>& slots);

// The slots' common centre, bed frame, nominal.
[[nodiscard]] Vector2d common_centre_mm(const Fixture& fixture);

}  // namespace jigtrue
