// How sharp a picture is, before anything in it is known.
#pragma once
#include <optional>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Gaussian sigma, px, of the sharpest edges within these parts of the picture; nothing where there are hardly any.
// A step blurred by s has, blurred by a further a or b, slopes in the ratio sqrt((s^2 + b^2) / (s^2 + a^2)), whatever
// its contrast (the re-blurring of Zhuo & Sim, Pattern Recognition 44(9), 2011); wide blurs are looked at on a coarser
// picture.
[[nodiscard]] std::optional<double> sharpest_blur_px(const cv::Mat1b& luma, const std::vector<cv::Rect>& parts);

}  // namespace jigtrue
