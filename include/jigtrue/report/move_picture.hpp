// Where the bed's marks were expected and where they are: for a photo that is refused because the camera has moved.
#pragma once
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

struct MarkMove {
  Vector2d expected_px = Vector2d::Zero();
  std::optional<Vector2d> found_px;
  double moved_mm = 0.0;  // on the bed, where it was found
};

// The photo, shrunk, with a ring where each mark was expected and an arrow that points to where it is now, larger than
// life where it would be too short to see; beside each the way in mm. A legend below says how much larger, and a
// compass which way the bed lies. As JPEG.
[[nodiscard]] std::string move_picture(const Photo& photo, const std::vector<MarkMove>& moves,
                                       const std::optional<BedDirections>& directions);

}  // namespace jigtrue
