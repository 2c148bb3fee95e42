// Where the bed's marks were expected and where they are: for a photo that is refused because the camera has moved.
#pragma once
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/image/photo.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

struct MarkMove {
  Vector2d expected_px = Vector2d::Zero();
  std::optional<Vector2d> found_px;
};

// The photo, shrunk, with a ring where each mark was expected and an arrow to a dot where it is; as JPEG.
[[nodiscard]] std::string move_picture(const Photo& photo, const std::vector<MarkMove>& moves);

}  // namespace jigtrue
