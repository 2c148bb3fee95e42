// Where a fixture's slots lie in a photo and what lies about them, as polygons of the photo and as masks of a picture
// made of it.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/picture_cells.hpp"

#include <optional>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Closed and convex, px of the photo.
struct SlotRegions {
  std::vector<Polyline2d> slots;  // where a blank of each slot may lie
  Polyline2d among;               // all of them and what lies between them
  Polyline2d around;              // and what lies about them
  double px_per_mm = 0.0;         // of the photo, the least of all slots
  double height_mm = 0.0;         // of the jig's face, about
};
// Nothing where no slot lies in the picture.
[[nodiscard]] std::optional<SlotRegions> slot_regions(const Camera& camera, const Fixture& fixture,
                                                      const std::vector<BlankPlace>& places);

// One within any of the outlines (px of the photo), 0 elsewhere; a value a cell.
[[nodiscard]] cv::Mat1b filled(const std::vector<Polyline2d>& lines, const PictureCells& cells);

}  // namespace jigtrue
