// A part of a picture that is shrunk from a photo, in square cells.
#pragma once
#include <opencv2/core/mat.hpp>

namespace jigtrue {

struct PictureCells {
  double shrink = 1.0;
  cv::Rect roi;     // px of the shrunk picture
  int cell_px = 1;  // of the same; what is left over at the right and below belongs to no cell
  [[nodiscard]] cv::Size size() const { return {roi.width / cell_px, roi.height / cell_px}; }
};

}  // namespace jigtrue
