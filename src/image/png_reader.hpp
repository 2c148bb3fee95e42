#pragma once
#include "image/encoded_photo.hpp"

namespace jigtrue {

// Any kind of PNG; transparency is dropped (a photo has none), 16 bits are reduced to 8. Throws InputError.
[[nodiscard]] StoredPhoto read_png(const EncodedPhoto& encoded, PhotoColour colour, const PhotoLimits& limits);
[[nodiscard]] StoredSize read_png_size(const EncodedPhoto& encoded, const PhotoLimits& limits);

}  // namespace jigtrue
