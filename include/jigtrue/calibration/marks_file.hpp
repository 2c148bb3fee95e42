// marks.json: marks at known places on the bed, such as those that the machine itself has burned on scrap.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <string>
#include <vector>

namespace jigtrue {

struct MarksFile {
  std::vector<Vector3d> marks_mm;  // bed frame: x, y, height
  double field_mm = 8.0;           // side of one of a mark's four fields
  double sigma_mm = 0.05;          // of each place, one axis
};

//   { "schema": "jigtrue.marks/1",
//     "marks_mm": [[30, 30, 3], [370, 30, 3], {"x_mm": 30, "y_mm": 370, "height_mm": 3}],
//     "field_mm": 8, "sigma_mm": 0.05 }
//
// Throws InputError naming file, field, value and remedy: not JSON, another schema, fewer than four marks, two at one
// place (or at one place with two heights), all in a line, numbers beyond any bench.
[[nodiscard]] MarksFile read_marks_json(const std::string& json_text, const std::string& file_name);

}  // namespace jigtrue
