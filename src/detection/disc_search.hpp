// Where a disc's rim seems to lie: the place and the girth at which all of its quadrants show edges.
#pragma once
#include "jigtrue/detection/coarse_search.hpp"

namespace jigtrue {

// As search_slot, for shapes that turning does not change: across and along are searched together.
[[nodiscard]] CoarseFinding search_disc(const SearchPicture& picture, const Camera& camera, const Blank& blank,
                                        const Seat& seat, const BlankPlace& expected, const SearchRange& range);

}  // namespace jigtrue
