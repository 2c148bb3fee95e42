// A photo in memory, upright (its orientation tag already applied), as luma and two chroma planes.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <string>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// How the chroma planes lie on the luma. Encoders fill up a picture of odd size on the right and below: the last chroma
// pixel then covers less of the picture than the others, or the first once such a picture was turned.
struct ChromaGrid {
  Vector2d pixels = {2.0, 2.0};   // of the luma that one pixel of the chroma covers, along x and y
  Vector2d lead_px = {0.0, 0.0};  // luma pixels that the first column and row cover beyond the picture's left and top

  // Position in the chroma planes, px, of a position in the luma.
  [[nodiscard]] Vector2d position(const Vector2d& luma_px) const {
    return ((luma_px + lead_px).array() + 0.5) / pixels.array() - 0.5;
  }
};

struct Photo {
  std::string file;  // as the user named it, for messages
  cv::Mat1b luma;    // BT.601 full range (JFIF), full resolution
  // JFIF chroma, 128 = neutral, both of one size; empty for a grey photo. Cameras store them at half resolution.
  cv::Mat1b cb;
  cv::Mat1b cr;
  ChromaGrid chroma;

  [[nodiscard]] int width_px() const { return luma.cols; }
  [[nodiscard]] int height_px() const { return luma.rows; }
  [[nodiscard]] bool has_colour() const { return !cb.empty() && !cr.empty(); }
};

}  // namespace jigtrue
