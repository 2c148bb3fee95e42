// Memory for whole pictures in large pages, where the system has them: a photo's planes are thousands of small ones,
// and each costs more when it is first touched than decoding what goes into it.
#pragma once
#include <opencv2/core/mat.hpp>

namespace jigtrue {

// To be called before the picture is first written to. Only a wish: nothing happens where it cannot be had.
void wish_for_large_pages(const cv::Mat& picture);

}  // namespace jigtrue
