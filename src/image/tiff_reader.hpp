#pragma once
#include "image/encoded_photo.hpp"

namespace jigtrue {

// The first picture of the file. Throws InputError.
[[nodiscard]] StoredPhoto read_tiff(const EncodedPhoto& encoded, PhotoColour colour, const PhotoLimits& limits);
[[nodiscard]] StoredSize read_tiff_size(const EncodedPhoto& encoded, const PhotoLimits& limits);

}  // namespace jigtrue
