// The grid that the blanks found stand in, and the slots that it has.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "measurement/blank_search.hpp"

namespace jigtrue {

// The grid that the blanks stand in; a single one that disturbs it, by lying between its slots, is no blank.
[[nodiscard]] std::optional<RegularGrid> grid_of(BlankSearch& search);

// Most blanks first, then the grid's gaps. Blanks found beyond the grid's ends make it longer.
[[nodiscard]] std::vector<ScoutedSlot> slots_in_grid(const Scout& scout, BlankSearch& search,
                                                     std::optional<RegularGrid>& grid,
                                                     const std::vector<ProposedPlace>& proposed);

// What is said of a slot that holds no blank.
[[nodiscard]] std::string gap_note(const SlotResult& seen);

// What the photo knows each blank to, all of them alike, comes beside their scatter: it turns a pitch as its ends do.
void allow_for_measuring(const std::vector<ScoutedPlace>& blanks, RegularGrid& grid);

}  // namespace jigtrue
