// A photo in memory, upright (its orientation tag already applied), as luma and two chroma planes.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <optional>
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
  int orientation = 1;                  // the tag that was applied, EXIF 2.3 section 4.6.4: 1 where the file has none
  std::optional<double> focal_mm = {};  // as the file says, times its digital zoom: what the picture's scale goes by

  [[nodiscard]] int width_px() const { return luma.cols; }
  [[nodiscard]] int height_px() const { return luma.rows; }
  [[nodiscard]] bool has_colour() const { return !cb.empty() && !cr.empty(); }
};

// Clockwise, as seen. Cameras that look straight down write their orientation tag by chance: the lens sees the same
// picture whatever the tag says, so a photo may have to be turned to lie as the lens's or the pose's lay.
enum class PhotoTurn { none, quarter, half, three_quarters };
[[nodiscard]] constexpr PhotoTurn after(PhotoTurn first, PhotoTurn then) {
  return static_cast<PhotoTurn>((static_cast<int>(first) + static_cast<int>(then)) % 4);
}
[[nodiscard]] Photo turned(Photo photo, PhotoTurn turn);
// Where a pixel of a picture of this size lies once it is turned.
[[nodiscard]] Vector2d turned(const Vector2d& px, int width_px, int height_px, PhotoTurn turn);
// What turns a photo whose tag was applied so that it lies as if `wanted` had been its tag. Mirrored tags (2, 4, 5, 7)
// are taken at their word, and 0 wants nothing.
[[nodiscard]] PhotoTurn turn_between(int applied_orientation, int wanted_orientation);
// "half a turn", "a quarter turn clockwise"; empty for none
[[nodiscard]] const char* to_string(PhotoTurn turn);

}  // namespace jigtrue
