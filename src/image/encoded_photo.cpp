#include "image/encoded_photo.hpp"

#include <algorithm>

namespace jigtrue {

void check_size(const std::string& file, long width_px, long height_px, const PhotoLimits& limits) {
  const std::string size = std::to_string(width_px) + " x " + std::to_string(height_px) + " px";
  if (width_px <= 0 || height_px <= 0) throw damaged_photo(file, "its header says " + size);
  if (width_px > limits.max_pixels / height_px) {
    throw input_error(
        file, size + " is more than the " + std::to_string(limits.max_pixels / 1'000'000) + " megapixels allowed",
        "use a smaller photo");
  }
  if (std::min(width_px, height_px) < limits.min_side_px) {
    throw input_error(file, size + " is too small, each side needs " + std::to_string(limits.min_side_px) + " px",
                      "use the camera's own photo, not a preview");
  }
}

InputError damaged_photo(const std::string& file, const std::string& detail) {
  return input_error(file, "damaged or cut short (" + detail + ")", "copy it from the camera again or take it anew");
}

}  // namespace jigtrue
