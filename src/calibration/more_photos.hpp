// What is always asked for when photos of a board do not suffice. Internal.
#pragma once

namespace jigtrue {

inline constexpr const char* kMorePhotos =
    "take about 15 that show the board in all parts of the picture and tilted in all directions";

}  // namespace jigtrue
