// What was done to a photo on its way here, as the picture itself shows it: colour taken out, detail lost.
#pragma once
#include "jigtrue/image/photo.hpp"

namespace jigtrue {

struct PhotoTreatment {
  bool grey = false;     // no colour anywhere: fewer than one pixel in a thousand is off neutral by more than a level
  double blur_px = 0.0;  // standard deviation of the sharpest edges' own blur; 0 where too few edges tell
};

// The sharpest edges are the tenth sharpest in a hundred of those that rise by more than 40 levels within nine pixels,
// along rows and columns: their height over their steepest step is sqrt(2 pi) times a Gaussian blur's deviation. What
// comes straight from a camera stays below kStraight_px (0.5 to 0.83 on traced and real photos); saved at half its
// size and enlarged again, or out of focus, it lies above.
inline constexpr double kStraight_px = 0.95;
[[nodiscard]] PhotoTreatment photo_treatment(const Photo& photo);

}  // namespace jigtrue
