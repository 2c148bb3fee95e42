// Where a grid's place lies in the picture, how the grid runs there and how it bends, from the corners round it.
#pragma once
#include "jigtrue/image/board.hpp"

#include <array>
#include <map>
#include <optional>

#include "image/refine_corner.hpp"

namespace jigtrue {

// Corners of a grid by their places; any shape, with gaps.
using PlacedCorners = std::map<GridPlace, CheckerFit>;

// In the picture's px. axis 0: along the columns' count, 1: along the rows'.
struct LocalGrid {
  Vector2d px = Vector2d::Zero();
  std::array<Vector2d, 2> tangent;      // to the next place
  std::array<double, 2> curvature{};    // of the grid line, 1/px, positive towards the tangent turned by +90 degrees
  const CheckerFit* nearest = nullptr;  // of the corners used
  int support = 0;                      // corners used

  [[nodiscard]] double spacing() const { return std::min(tangent[0].norm(), tangent[1].norm()); }
};

// A quadratic in the grid's coordinates fitted to the corners within three places, near ones weighing more; the place's
// own corner takes no part. Second derivatives are expected to be small against the spacing, so that few corners give a
// plane map. Nothing when the corners there lie in one line.
[[nodiscard]] std::optional<LocalGrid> local_grid(const PlacedCorners& corners, const GridPlace& at);

}  // namespace jigtrue
