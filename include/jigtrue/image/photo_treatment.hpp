// What was done to a photo on its way here, as the picture itself shows it: colour taken out, detail lost.
#pragma once
#include "jigtrue/image/photo.hpp"

namespace jigtrue {

struct PhotoTreatment {
  bool grey = false;     // no colour anywhere: fewer than one pixel in a thousand is off neutral by more than a level
  double blur_px = 0.0;  // of the sharpest edges (sharpest_blur.hpp); 0 where too few edges tell
};

// What comes straight from a camera stays below this (0.4 to 0.83 on traced and real photos, but for one at 1.04);
// saved at half its size and enlarged again, or out of focus, it lies above.
inline constexpr double kStraight_px = 0.95;
[[nodiscard]] PhotoTreatment photo_treatment(const Photo& photo);

}  // namespace jigtrue
