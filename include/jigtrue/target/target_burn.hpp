// Marks for the machine itself to burn, at coordinates that it knows.
#pragma once
#include "jigtrue/layout/machine.hpp"
#include "jigtrue/target/target_drawing.hpp"

#include <string>
#include <vector>

namespace jigtrue {

struct BurnMarks {
  Machine machine;
  std::vector<Vector2d> centres_mm;  // bed frame
  double height_mm = 0.0;            // of the scrap's face above the bed
  double field_mm = 8.0;
};

// columns x rows centres, spread evenly so that whole marks just fill the area between two opposite corners. Throws
// InputError when they would touch.
[[nodiscard]] std::vector<Vector2d> mark_grid(const Vector2d& corner_mm, const Vector2d& opposite_mm, int columns,
                                              int rows, double field_mm);

// The page is the bed (see Page for how it lies); on it the black fields alone. Throws InputError when a mark leaves
// the bed or comes within two fields of another.
[[nodiscard]] TargetDrawing burn_drawing(const BurnMarks& marks);

// {"schema": "jigtrue.marks/1", "marks_mm": [[x, y, height], ...]}, what the pose command takes as --marks.
[[nodiscard]] std::string marks_json(const BurnMarks& marks);

}  // namespace jigtrue
