// Tells a photo that was named where another file was asked for.
#pragma once
#include <string_view>

namespace jigtrue {

// By the first bytes: JPEG, PNG or TIFF.
[[nodiscard]] inline bool is_picture(std::string_view bytes) {
  using namespace std::string_view_literals;
  for (const std::string_view start : {"\xFF\xD8\xFF"sv, "\x89PNG"sv, "II*\0"sv, "MM\0*"sv})
    if (bytes.starts_with(start)) return true;
  return false;
}

}  // namespace jigtrue
