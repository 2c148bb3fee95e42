// The load as a whole: what its blanks and slots have in common, and each slot judged by it. Blanks of one load are of
// nearly one size; slots of one jig share its shift and turn, and their distances are known. What only one slot says
// against all others, or all say against the file, is told and not engraved.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

struct CommonMean {
  double mm = 0.0;
  double scatter_mm = 0.0;  // of the blanks about it, 1 sigma, their measurement's included
  double u_mm = 0.0;        // of the mean, 1 sigma
  int blanks = 0;           // that agree on it, three quarters of those measured or more
};

// Slots that are declared to hold the same: their blanks' common length and diameter, measured in this load.
struct CommonSize {
  std::vector<std::size_t> slots;  // in the fixture's order
  std::optional<CommonMean> length;
  std::optional<CommonMean> diameter;
};
[[nodiscard]] std::vector<CommonSize> common_sizes(const Fixture& fixture, const std::vector<SlotResult>& slots);

// To be called once all slots are measured, before designs are judged. Changes states, reasons and half-widths, adds
// notes; a place that was taken from the declared length is settled by the load's own where that is known.
// `camera_mm`: where the camera stands over the bed: blanks that lie higher than declared seem further from its foot.
void judge_by_load(const Fixture& fixture, const Vector2d& camera_mm, CheckResult& result);

}  // namespace jigtrue
