// A drawing burned twice, so near itself that the two overlap: one fit would lie between them and take them for a
// blurred one.
#pragma once
#include "jigtrue/inspection/match_mark.hpp"

#include <vector>

#include "inspection/laid_ink.hpp"
#include "inspection/texture.hpp"
#include <opencv2/core.hpp>

namespace jigtrue {

// How much better two drawings explain the light than one does, each as strong as suits, whatever the blur. `inks`: the
// drawing, differently blurred; `relative`: the light over the ground's, less 1.
[[nodiscard]] NearDouble near_double(const Unrolled& on, const Texture& texture, const std::vector<InkRaster>& inks,
                                     const MarkPose& pose, const cv::Mat1f& relative);

}  // namespace jigtrue
