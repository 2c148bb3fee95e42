// Where a load shows what its empty jig does not.
#pragma once
#include "jigtrue/measurement/changed_cells.hpp"

#include "measurement/compared_photos.hpp"

namespace jigtrue::registration {

// `place_sigma_px`: how well the photos lie on each other, in the photo's px.
[[nodiscard]] ChangedCells find_changes(const PlanePair& pair, const SlotRegions& regions, const Level& level,
                                        const Compared& compared, double place_sigma_px);

}  // namespace jigtrue::registration
