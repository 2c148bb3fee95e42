// How sharp a picture is, before anything in it is known.
#pragma once
#include <optional>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Gaussian sigma, px, of the sharpest edges within these parts of the picture; nothing where there are hardly any. An
// edge's height over its steepest step is sqrt(2 pi) times that, whatever its contrast. Told is the tenth sharpest in a
// hundred of those that rise by more than 40 grey levels within nine pixels, along rows and columns; wide blurs are
// looked at on a coarser picture.
[[nodiscard]] std::optional<double> sharpest_blur_px(const cv::Mat1b& luma, const std::vector<cv::Rect>& parts);

}  // namespace jigtrue
