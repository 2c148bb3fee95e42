// What a photo's own data say of how it was taken (EXIF 2.3).
#pragma once
#include <optional>
#include <span>
#include <string>

namespace jigtrue {

struct ExifFacts {
  int orientation = 1;             // which way the camera was held, 4.6.4; 1 (upright) where nothing is said
  std::optional<double> focal_mm;  // FocalLength
  std::optional<double> zoom;      // DigitalZoomRatio: 2 where half the width was enlarged
  std::string taken;               // DateTimeOriginal: "2024:05:01 12:00:00" by the camera's clock; empty if not said

  // The focal length times the digital zoom: what the picture's scale goes by. Nothing without a focal length.
  [[nodiscard]] std::optional<double> zoomed_focal_mm() const {
    return focal_mm ? std::optional(*focal_mm * zoom.value_or(1.0)) : std::nullopt;
  }
};

// Of a photo's file in memory; of a JPEG only, the others tell nothing here. Never throws.
[[nodiscard]] ExifFacts exif_facts_of_photo(std::span<const unsigned char> file);

}  // namespace jigtrue
