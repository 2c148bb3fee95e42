// Errors in the picture as lengths on the board.
#pragma once
#include "jigtrue/calibration/lens_fit.hpp"

namespace jigtrue {

// Millimetres at the boards' distance for one pixel, the median over the photos used; 0 without any.
[[nodiscard]] double mm_per_px(const LensFit& fit);

}  // namespace jigtrue
