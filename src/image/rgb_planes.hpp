// RGB rows into luma and chroma planes.
#pragma once
#include "jigtrue/image/read_photo.hpp"

namespace jigtrue {

// JFIF luma at full resolution; JFIF chroma at half, each sample the mean of its 2 x 2 pixels (fewer at an odd edge):
// that is what cameras store, and no more is needed of colour. Rows come in pairs, from top to bottom. Throws only on
// construction.
class RgbPlanes {
 public:
  RgbPlanes(int width_px, int height_px, PhotoColour colour);

  // Rows y (even) and y + 1; `lower` is ignored where y + 1 is below the picture. 3 bytes a pixel.
  void store_pair(int y, const unsigned char* upper, const unsigned char* lower) noexcept;
  [[nodiscard]] Photo take() { return std::move(photo_); }

 private:
  Photo photo_;
};

}  // namespace jigtrue
