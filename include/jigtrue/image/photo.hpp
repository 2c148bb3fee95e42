// A photo in memory, upright (its orientation tag already applied), as luma and two chroma planes.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <string>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

struct Photo {
  std::string file;  // as the user named it, for messages
  cv::Mat1b luma;    // BT.601 full range (JFIF), full resolution
  // JFIF chroma, 128 = neutral; empty for a grey photo. Cameras store them at half resolution: a luma position p lies
  // at (p + 0.5) * size_chroma / size_luma - 0.5 in these planes.
  cv::Mat1b cb;
  cv::Mat1b cr;

  [[nodiscard]] int width_px() const { return luma.cols; }
  [[nodiscard]] int height_px() const { return luma.rows; }
  [[nodiscard]] bool has_colour() const { return !cb.empty() && !cr.empty(); }
};

}  // namespace jigtrue
