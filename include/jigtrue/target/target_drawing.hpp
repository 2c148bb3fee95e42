// A sheet to be printed or burned, in true millimetres, and its two forms: SVG and PDF.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// Sheet frame: mm, origin the sheet's lower-left corner, X to the right, Y up.
struct FilledBox {
  Vector2d low_mm;
  Vector2d high_mm;
  double grey = 0.0;  // 0 black, 1 white
};

enum class TextAnchor { start, middle, end };

// Printable ASCII. Turned text reads upwards.
struct SmallPrint {
  Vector2d at_mm;        // on the base line, at the anchor
  double size_mm = 2.0;  // of the font: a capital's height is 0.72 of it
  std::string text;
  TextAnchor anchor = TextAnchor::start;
  bool upwards = false;
};

struct TargetDrawing {
  std::string title;
  std::string description;  // SVG only
  Vector2d size_mm;
  std::vector<FilledBox> boxes;
  std::vector<SmallPrint> print;
};

// How wide text comes out in Helvetica, the font of both forms (Adobe's published font metrics). Throws
// std::logic_error for what is not printable ASCII.
[[nodiscard]] double text_width_mm(const std::string& text, double size_mm);

// One user unit is one mm; boxes are <rect> elements of pure fill, numbers to 0.0001 mm.
[[nodiscard]] std::string target_svg(const TargetDrawing& drawing);

// One page (ISO 32000-1), 1/72 inch units, numbers to 0.0001 of them (0.00004 mm); asks the viewer to print unscaled.
// Both throw std::logic_error when a number is not finite.
[[nodiscard]] std::string target_pdf(const TargetDrawing& drawing);

}  // namespace jigtrue
