// What a photo cannot be scouted for: each throws an InputError that says what is seen and what to do.
#pragma once
#include <vector>

#include "measurement/blank_search.hpp"

namespace jigtrue {

// The support that blanks have, typically.
[[nodiscard]] double usual_support(const std::vector<ScoutedPlace>& blanks);

// A blank that the picture's edge cuts.
void refuse_cut(const Scout& scout, const BlankSearch& search);
// A place of the grid that holds no whole blank, since the picture ends there.
void refuse_cut_slots(const Scout& scout, const std::vector<ScoutedSlot>& slots);
void refuse_overlaps(const Scout& scout, const BlankSearch& search);
void refuse_two_kinds(const Scout& scout, const BlankSearch& search);
// No blank at all: of another size, cut, or none.
[[noreturn]] void refuse_none(const Scout& scout, BlankSearch& search, const std::vector<ProposedPlace>& other_sizes);

}  // namespace jigtrue
