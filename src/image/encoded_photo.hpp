// What the readers of the three file formats share.
#pragma once
#include "jigtrue/base/error.hpp"
#include "jigtrue/image/read_photo.hpp"

#include <string>

namespace jigtrue {

// As stored: before the orientation tag (1 to 8, EXIF 2.3 section 4.6.4) is applied.
struct StoredSize {
  int width_px = 0;
  int height_px = 0;
  int orientation = 1;
};

struct StoredPhoto {
  Photo photo;
  int orientation = 1;
};

// Throws InputError for a size outside the limits. To be called before memory is asked for.
void check_size(const std::string& file, long width_px, long height_px, const PhotoLimits& limits);

[[nodiscard]] InputError damaged_photo(const std::string& file, const std::string& detail);

}  // namespace jigtrue
