// Where a view from above shows edges all along a declared outline, at any place.
#pragma once
#include "jigtrue/detection/propose_places.hpp"

#include <vector>

namespace jigtrue {

// What is looked for: a blank, its girth larger by twice as many cells of the view as each of these.
struct WantedOutline {
  const Blank& blank;
  const std::vector<int>& wider;
};

// What has sides and ends, at any heading; with headings given, only near one of those.
[[nodiscard]] std::vector<ProposedPlace> proposed_bars(const BedView& view, const EdgePicture& edges,
                                                       const WantedOutline& wanted,
                                                       const std::vector<double>& headings_rad, int threads);
[[nodiscard]] std::vector<ProposedPlace> proposed_discs(const BedView& view, const EdgePicture& edges,
                                                        const WantedOutline& wanted, int threads);

}  // namespace jigtrue
