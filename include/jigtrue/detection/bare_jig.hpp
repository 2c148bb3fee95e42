// What the jig shows where a blank is looked for.
#pragma once
#include "jigtrue/image/photo.hpp"

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// The photo as it would be without blanks: by the same camera, in the same light, pixel by pixel.
struct BareJig {
  const Photo& photo;
  cv::Rect known;               // px; beyond that it shows nothing of use
  double place_sigma_px = 0.0;  // how well it is registered
};

}  // namespace jigtrue
