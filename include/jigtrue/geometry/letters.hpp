// The program's own typeface as outlines: for pictures, and for what a machine cuts or burns.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// In hundredths of a capital's height, y up, the base line at y = 0. A contour within another one is a hole.
struct Letter {
  double advance = 0.0;
  std::vector<Polyline2d> contours;  // closed without repeating the first point
};

// Of printable ASCII; the question mark for everything else.
[[nodiscard]] const Letter& letter(char c);

// A line of them, its middle at (0, 0) both ways, as tall as asked for and at most so wide; y up, mm.
[[nodiscard]] std::vector<Polyline2d> letters_mm(const std::string& text, double height_mm, double most_width_mm);

}  // namespace jigtrue
