// What the blanks of one load have in common: blanks of one make are of nearly one size.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

inline constexpr double kSameBlank_mm = 0.6;  // blanks of one make differ by less: common practice, no source

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

}  // namespace jigtrue
