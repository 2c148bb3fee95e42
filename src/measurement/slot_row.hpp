// What the found slots of one jig that lie side by side, parallel to the first, say together: how their offsets across
// change along the row.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

// Unit vector, bed.
[[nodiscard]] Vector2d along_of(const Slot& slot);

// A slot of a row side by side: how far from the first, and how far its blank lies off.
struct RowPlace {
  std::size_t slot = 0;
  double at_mm = 0.0;
  double across_mm = 0.0;
  double sigma_mm = 0.0;
};

// In the order in which they lie.
[[nodiscard]] std::vector<RowPlace> row_places(const Fixture& fixture, const std::vector<SlotResult>& slots);

// Offsets that grow along the row.
struct RowTrend {
  double slope = 0.0;  // mm across for 1 mm along the row
  double slope_sigma = 0.0;
  double reach_mm = 0.0;  // of the row, from its middle
};

// By least squares; nothing of fewer than four places.
[[nodiscard]] std::optional<RowTrend> trend_of(const std::vector<RowPlace>& row);

// Robust, whatever a few of the places say: Sen, J. Am. Stat. Assoc. 63, 1968.
struct RowLine {
  double slope = 0.0;
  double level_mm = 0.0;
};
[[nodiscard]] RowLine line_of(const std::vector<RowPlace>& row);

struct Predicted {
  double mm = 0.0;
  double sigma_mm = 0.0;
};

// Where the others of a row say that one more would lie: a straight line through them, and how far one more lies off
// such a line, where it was drawn through few or far from them (Draper & Smith, Applied Regression Analysis, 3.1).
[[nodiscard]] std::optional<Predicted> predicted_by(const std::vector<RowPlace>& others, double at_mm,
                                                    double least_scatter_mm);

}  // namespace jigtrue
