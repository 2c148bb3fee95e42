// What a photo's own data say of how it was taken.
#pragma once
#include "jigtrue/image/exif_facts.hpp"

#include <span>

namespace jigtrue {

// From an EXIF block without the "Exif" prefix, i.e. from its byte order mark on (TIFF 6.0 section 2, EXIF 2.3 section
// 4.6). Nothing where there is no such tag or the block does not make sense: metadata is no reason to refuse a photo.
[[nodiscard]] ExifFacts exif_facts(std::span<const unsigned char> block);
[[nodiscard]] int exif_orientation(std::span<const unsigned char> block);

}  // namespace jigtrue
