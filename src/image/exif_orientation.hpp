// The orientation tag of a photo: which way the camera was held.
#pragma once
#include <span>

namespace jigtrue {

// From an EXIF block without the "Exif" prefix, i.e. from its byte order mark on (TIFF 6.0 section 2, EXIF 2.3 section
// 4.6.2). 1 (upright) when there is no such tag or the block does not make sense: metadata is no reason to refuse a
// photo.
[[nodiscard]] int exif_orientation(std::span<const unsigned char> block);

}  // namespace jigtrue
