// A declared outline as a view from above shows it, in whole cells: straight pieces of its sides, and its two ends.
#pragma once
#include "jigtrue/fixture/fixture.hpp"

#include <vector>

namespace jigtrue {

// A stretch of the sides at about one distance from the axis, cells; `from` and `to` from the blank's middle.
struct SidePiece {
  int from = 0;
  int to = 0;
  int radius = 0;
};
struct OutlineTemplate {
  std::vector<SidePiece> pieces;
  int side_cells = 0;  // all pieces together
  int start = 0;       // columns of the ends
  int end = 0;
  int start_radius = 0;
  int end_radius = 0;
  bool turns_alike = false;  // half a turn changes nothing
  [[nodiscard]] bool straight() const { return pieces.size() == 1; }
};

[[nodiscard]] int whole_cells(double mm, double mm_per_cell);
[[nodiscard]] OutlineTemplate outline_template(const BlankShape& shape, double mm_per_cell);
[[nodiscard]] OutlineTemplate reversed(const OutlineTemplate& outline);

}  // namespace jigtrue
