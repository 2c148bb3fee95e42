// The load as a whole: what its blanks and slots have in common, and each slot judged by it. Blanks of one load are of
// nearly one size; slots of one jig share its shift and turn, and their distances are known. What only one slot says
// against all others, or all say against the file, is told and not engraved.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

namespace jigtrue {

// To be called once all slots are measured, before designs are judged. Changes states, reasons and half-widths, adds
// notes; a place that was taken from the declared length is settled by the load's own where that is known.
// `camera_mm`: where the camera stands over the bed: blanks that lie higher than declared seem further from its foot.
void judge_by_load(const Fixture& fixture, const Vector2d& camera_mm, PhotoFindings& result);

}  // namespace jigtrue
