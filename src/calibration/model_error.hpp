// What the model misses: structure in the residuals that noise does not explain. Internal.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <vector>

namespace jigtrue {

struct Residual {
  Vector2d px;
  Vector2d error_px;
};
struct ResidualSplit {
  double noise_px = 0.0;      // one axis: spread within the picture's fields
  double structure_px = 0.0;  // distance: mean of the fields, less what noise alone would give
};
// The picture is divided into 12 x 9 fields; within one the lens's error is nearly constant, from one to the next it is
// not.
[[nodiscard]] ResidualSplit split_residuals(const std::vector<Residual>& residuals, int width_px, int height_px);

}  // namespace jigtrue
