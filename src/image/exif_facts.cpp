#include "jigtrue/image/exif_facts.hpp"

#include <algorithm>
#include <array>
#include <cstddef>

#include "image/exif_orientation.hpp"

namespace jigtrue {

// Segments from the start of the image to its first scan (ITU-T T.81, B.1): a marker, then two bytes of length.
ExifFacts exif_facts_of_photo(std::span<const unsigned char> file) {
  static constexpr std::array<unsigned char, 6> kPrefix = {'E', 'x', 'i', 'f', 0, 0};
  if (file.size() < 4 || file[0] != 0xFF || file[1] != 0xD8) return {};
  for (std::size_t at = 2; at + 4 <= file.size();) {
    if (file[at] != 0xFF) return {};
    const unsigned char marker = file[at + 1];
    if (marker == 0xFF) {  // fill
      ++at;
      continue;
    }
    if (marker == 0xDA || marker == 0xD9) return {};
    const std::size_t length = std::size_t{file[at + 2]} << 8 | file[at + 3];
    if (length < 2 || length > file.size() - at - 2) return {};
    const auto segment = file.subspan(at + 4, length - 2);
    if (marker == 0xE1 && segment.size() > kPrefix.size() &&
        std::equal(kPrefix.begin(), kPrefix.end(), segment.begin()))
      return exif_facts(segment.subspan(kPrefix.size()));
    at += 2 + length;
  }
  return {};
}

}  // namespace jigtrue
