// What is always asked for when photos of a board do not suffice. Internal.
#pragma once
#include <cstddef>
#include <string>

namespace jigtrue {

inline constexpr const char* kMorePhotos =
    "take about 15 that show the board in all parts of the picture and tilted in all directions";

// Zhang, IEEE PAMI 22(11), 2000: of a plane, for all of a camera's parameters
inline constexpr std::size_t kFewestPhotos = 3;

// "1 usable photo of the board, at least 3 are needed"
[[nodiscard]] inline std::string too_few_photos(std::size_t usable) {
  return std::to_string(usable) + (usable == 1 ? " usable photo" : " usable photos") + " of the board, at least " +
         std::to_string(kFewestPhotos) + " are needed";
}

}  // namespace jigtrue
