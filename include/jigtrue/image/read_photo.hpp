// Reads JPEG, PNG and TIFF photos (8 bits a channel out; 16-bit input is reduced), orientation tag applied.
#pragma once
#include "jigtrue/image/photo.hpp"

#include <filesystem>
#include <span>
#include <string>

namespace jigtrue {

struct PhotoLimits {
  long max_pixels = 200'000'000;  // a larger header is refused before memory is asked for
  int min_side_px = 64;
};

struct PhotoSize {
  int width_px = 0;  // as the upright photo will have it
  int height_px = 0;
};

enum class PhotoColour {
  with_chroma,
  luma_only
};  // luma only is quicker: the chroma of a JPEG is then not transformed

// A photo's file in memory; the bytes must live as long as it is read.
struct EncodedPhoto {
  std::string file;  // as the user named it, for messages
  std::span<const unsigned char> bytes;
};

// Throws InputError: empty, not a known kind, truncated, corrupt, too large, too small.
[[nodiscard]] Photo read_photo(const EncodedPhoto& encoded, PhotoColour colour = PhotoColour::with_chroma,
                               const PhotoLimits& limits = {});

// The same for a file, which may also be missing or a folder.
[[nodiscard]] Photo read_photo(const std::filesystem::path& file, PhotoColour colour = PhotoColour::with_chroma,
                               const PhotoLimits& limits = {});

// From the header alone, without decoding.
[[nodiscard]] PhotoSize read_photo_size(const std::filesystem::path& file, const PhotoLimits& limits = {});

}  // namespace jigtrue
