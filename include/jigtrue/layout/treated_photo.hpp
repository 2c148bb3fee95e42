// What a treated photo takes from what was measured in it.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/photo_treatment.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// Standard uncertainty of where an edge lies, px, that a treatment adds. Without colour the border of a shadow cannot
// be told from the blank's own: 0.2 px; grey copies of eight traced photos lie 0.12 px (rms), up to 0.33 px, beside
// their originals. Detail that is lost merges edges that lie closer than the blur: what it exceeds a straight photo's
// by, whole.
[[nodiscard]] double treatment_px(const PhotoTreatment& treatment);

// The fixture's slots with that added to their half-widths and budgets, through each slot's photo_from_design. A turn
// is off by as much as the two ends' sides may be off from each other.
[[nodiscard]] std::vector<SlotResult> widened_for_treatment(const PhotoTreatment& treatment, const Fixture& fixture,
                                                            std::vector<SlotResult> slots);

// What to say of it to the person at the machine.
[[nodiscard]] std::vector<std::string> treatment_notes(const PhotoTreatment& treatment);

}  // namespace jigtrue
