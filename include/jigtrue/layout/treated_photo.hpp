// What a treated photo takes from what was measured in it.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/photo_treatment.hpp"
#include "jigtrue/measurement/slot_result.hpp"

namespace jigtrue {

// Standard uncertainty of where an edge lies, px, that a treatment adds. Without colour the border of a shadow cannot
// be told from the blank's own: 0.2 px; grey copies of eight traced photos lie 0.12 px (rms), up to 0.33 px, beside
// their originals. Detail that is lost merges edges that lie closer than the blur: what it exceeds a straight photo's
// by, whole.
[[nodiscard]] double treatment_px(const PhotoTreatment& treatment);

// Adds that to every slot's half-widths and budget, through its photo_from_design, and says so in a note. A turn is
// off by as much as the two ends' sides may be off from each other.
void allow_for_treatment(const PhotoTreatment& treatment, const Fixture& fixture, CheckResult& result);

}  // namespace jigtrue
