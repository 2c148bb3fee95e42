// Slots that stand in a row or in a grid, as jigs are made: one direction, one pitch each way. The blanks lie in it by
// chance, so the grid is known better than any one of them.
#pragma once
#include "jigtrue/fixture/fixture.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

struct GridIndex {
  int row = 0;     // along `row_step_mm`: across the blanks
  int column = 0;  // along `column_step_mm`: along the blanks
  friend bool operator==(const GridIndex&, const GridIndex&) = default;
};

// A pitch with the half-width that holds the jig's with 95 %.
struct Pitch {
  double mm = 0.0;
  double u_mm = 0.0;
};

struct RegularGrid {
  double axis_deg = 0.0;  // common to all; in (-90, 90], 0 for discs
  double u_axis_deg = 0.0;
  Vector2d origin_mm = Vector2d::Zero();  // of row 0, column 0
  Vector2d row_step_mm = Vector2d::Zero();
  Vector2d column_step_mm = Vector2d::Zero();
  // Absent for one or two rows: what lies between two, one slot or several, nothing tells.
  std::optional<Pitch> row_pitch;
  std::optional<Pitch> column_pitch;
  std::vector<std::optional<GridIndex>> index;  // of each slot given; absent where it does not belong to the grid
  int rows = 1;
  int columns = 1;
  // How the blanks lie about their slots, 1 sigma.
  double scatter_across_mm = 0.0;
  double scatter_along_mm = 0.0;
  double scatter_turn_deg = 0.0;
  double u_across_mm = 0.0;  // 95 %, of the place of a slot that holds a blank, at its worst
  double u_along_mm = 0.0;

  [[nodiscard]] Vector2d place_mm(const GridIndex& at) const {
    return origin_mm + at.row * row_step_mm + at.column * column_step_mm;
  }
  [[nodiscard]] bool holds(const GridIndex& at) const {
    for (const auto& taken : index)
      if (taken == at) return true;
    return false;
  }
};

// Nothing where fewer than three lie parallel, or where rows or columns so even are to be expected by chance.
// `choices`: in how many ways these slots could have been chosen from those seen.
[[nodiscard]] std::optional<RegularGrid> regular_grid(const std::vector<Slot>& slots, std::size_t choices = 1);

}  // namespace jigtrue
