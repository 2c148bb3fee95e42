// What a drawing may ask for: bounds time and memory whatever a file holds. Each is far beyond what is engraved on a
// bed of blanks.
#pragma once
#include <cstddef>

namespace jigtrue::svg {

struct DrawingLimits {
  std::size_t bytes = 16u << 20;        // unpacked: a tree takes several times as much
  std::size_t tags = 400'000;           // they cost many times their bytes in the tree
  std::size_t levels = 64;              // of a file
  std::size_t levels_drawn = 128;       // with what is used again within what is used again
  std::size_t shapes_drawn = 200'000;   // the same
  std::size_t style_rules = 2000;       // each is held against every element
  std::size_t value_bytes = 1000;       // no colour, width or reference is this long
  std::size_t path_segments = 500'000;  // of all outlines together, curves before they are made points
  std::size_t points = 2'000'000;       // of all outlines together
  double farthest_mm = 100'000.0;       // beyond that numbers lose their thousandths
};
inline constexpr DrawingLimits kLimits;

}  // namespace jigtrue::svg
