// The edges that a view of the bed from above shows.
#pragma once
#include "jigtrue/detection/bed_view.hpp"

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Edge vectors of the view, their length bounded by 1: how an intensity grows along X and along Y.
struct EdgePicture {
  cv::Mat3f along_x;
  cv::Mat3f along_y;
};

[[nodiscard]] EdgePicture edges_of(const BedView& view);

}  // namespace jigtrue
