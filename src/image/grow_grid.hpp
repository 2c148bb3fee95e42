// Joins checker corners into grids: each corner's four edges lead to its neighbours, whose colours must be the
// opposite.
#pragma once
#include <vector>

#include "image/saddle.hpp"
#include <opencv2/core/mat.hpp>

namespace jigtrue {

// A whole rectangle of corners, row by row. Which axis is which, and where it starts, is not settled here.
struct CornerGrid {
  int columns = 0, rows = 0;
  std::vector<Vector2d> px;
  std::vector<char> seen;  // 0 where the corner is only foreseen from its neighbours
  int seen_count = 0;

  [[nodiscard]] std::size_t index(int column, int row) const {
    return static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) + static_cast<std::size_t>(column);
  }
};

// Every grid of at least 2 x 2 corners, most corners first. A group whose joints contradict each other is left out and
// counted in contradictory.
struct CornerGrids {
  std::vector<CornerGrid> grids;
  int contradictory = 0;
};
[[nodiscard]] CornerGrids grow_grids(const cv::Mat1b& luma, const std::vector<Saddle>& saddles);

}  // namespace jigtrue
