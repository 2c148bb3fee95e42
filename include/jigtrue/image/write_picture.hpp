// Encodes pictures that the program draws.
#pragma once
#include "jigtrue/image/photo.hpp"

#include <string>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// The photo as a BGR picture, shrunk by area averaging so that its longer side is at most max_side_px (never enlarged).
struct ShrunkPicture {
  cv::Mat3b bgr;
  double scale = 1.0;  // picture px per photo px; photo position p lies at (p + 0.5) * scale - 0.5
};
[[nodiscard]] ShrunkPicture shrink(const Photo& photo, int max_side_px);

[[nodiscard]] std::string encode_jpeg(const cv::Mat3b& bgr, int quality = 88);
[[nodiscard]] std::string encode_png(const cv::Mat3b& bgr);

}  // namespace jigtrue
