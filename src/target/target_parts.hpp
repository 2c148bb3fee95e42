// What the target sheets share.
#pragma once
#include "jigtrue/target/target_drawing.hpp"

#include <string>

namespace jigtrue {

// With so many decimals (one or more), zeros at the end left away.
[[nodiscard]] std::string short_number(double value, int decimals);

// The mark's two black fields, lower left and upper right of its centre.
void add_mark_fields(TargetDrawing& drawing, const Vector2d& centre_mm, double field_mm);

// The drawing's boxes as SVG elements, one a line.
[[nodiscard]] std::string box_elements(const TargetDrawing& drawing);

}  // namespace jigtrue
