// Joins checker corners into grids: each corner's four edges lead to its neighbours, whose colours must be the
// opposite.
#pragma once
#include <vector>

#include "image/measure_grid.hpp"
#include "image/saddle.hpp"
#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Every group of four corners or more that hang together, most corners first. The places count from any corner of the
// group, right-handed as printed; of each corner only its px is told.
[[nodiscard]] std::vector<PlacedCorners> grow_grids(const cv::Mat1b& luma, const std::vector<Saddle>& saddles);

}  // namespace jigtrue
