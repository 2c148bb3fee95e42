// What the model misses: structure in the residuals that is the same in every photo. Internal.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <cstddef>
#include <vector>

namespace jigtrue {

struct Residual {
  std::size_t photo = 0;
  Vector2d px;
  Vector2d error_px;
};

// Distance, px, typically: what different photos' residuals have in common at one place of the picture, which is what
// the lens does and the model does not. The picture is divided into 12 x 9 fields; within one the lens's error is
// nearly constant. Products of two photos' residuals only: errors that corners of one photo share do not count. 0 when
// no field holds two photos, or when chance makes the products negative.
[[nodiscard]] double common_structure_px(const std::vector<Residual>& residuals, int width_px, int height_px);

}  // namespace jigtrue
