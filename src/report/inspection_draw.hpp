// Pictures of marks. Private to this layer.
#pragma once
#include "jigtrue/inspection/inspection_result.hpp"

#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// A drawing's outlines, its plane (mm along and across) mapped to a picture.
[[nodiscard]] std::vector<Polyline2d> mark_outlines(const std::vector<Pass>& passes, const Matrix3d& picture_from_mark);

// A slot's surface unrolled: its centreline, where the drawing belongs (a short line across it), the drawing's outline
// where the mark was found, and the arrow from the one to the other, ten times life size. Empty where nothing was seen.
[[nodiscard]] cv::Mat3b close_up_picture(const InspectedSlot& slot, const std::vector<Pass>* passes);

}  // namespace jigtrue
