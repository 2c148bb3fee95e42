#pragma once
#include "image/encoded_photo.hpp"

namespace jigtrue {

// Luma and chroma as the file stores them: no upsampling, no colour conversion. Throws InputError.
[[nodiscard]] StoredPhoto read_jpeg(const EncodedPhoto& encoded, PhotoColour colour, const PhotoLimits& limits);
[[nodiscard]] StoredSize read_jpeg_size(const EncodedPhoto& encoded, const PhotoLimits& limits);

}  // namespace jigtrue
