// Area averaging at any ratio.
#pragma once
#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Sample (x, y) of the result is the mean of the plane over [x, x + 1) * step_x by [y, y + 1) * step_y, counted in
// pixels from the plane's outer corner; what lies outside of the plane takes the nearest edge pixel. Within 1 grey
// level of exact.
[[nodiscard]] cv::Mat1b shrink_plane(const cv::Mat1b& plane, cv::Size size, double step_x, double step_y);

}  // namespace jigtrue
