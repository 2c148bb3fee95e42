// The 2 x 2 checker mark: black lower-left and upper-right, white other two; its position is its centre.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/image/photo.hpp"

namespace jigtrue {

// Where a mark is expected: its centre, and the image of 1 mm along its own right and up directions there (px per mm,
// taken from the camera's map; may be turned by any angle relative to the truth when any_turn is set).
struct MarkPrediction {
  Vector2d centre_px;
  Matrix2d px_from_mm;      // columns: image of +1 mm right, +1 mm up on the mark's own face
  double field_mm = 8.0;    // side of one of its four fields
  double search_px = 40.0;  // how far from centre_px the centre may lie
  bool any_turn = true;
};

struct MarkPosition {
  Vector2d px;
  double sigma_px = 0.0;  // one axis
  double contrast = 0.0;  // grey levels, white fields less black fields
  double turn_deg = 0.0;  // of the mark against the prediction, counter-clockwise seen from above
};

// A pattern that has the four fields' colours out to 0.85 of their length is taken for a mark, whatever lies beyond: a
// checker of larger squares (a board's corner), or by chance a code printed in coarse blocks.
// Fails with the reason when no mark is near, or when its four fields, its contrast or the fit do not agree.
[[nodiscard]] Outcome<MarkPosition> find_mark(const cv::Mat1b& luma, const MarkPrediction& prediction);

}  // namespace jigtrue
