// What marks burned by the machine say about the machine.
//
// The machine put them where it believed the places (x, y) to be. On the bed they truly lie at
//   x' = (1 + sx) x - q y,   y' = (1 + sy) y
// but for a shift and a turn that no one can tell from the frame itself: sx and sy are the axes' scale errors, q (rad)
// is the squareness error, the angle between the axes less 90 degrees (ISO 230-1:2012, 3.6.7 and ISO 230-2 speak of the
// deviations of single axes; the terms are meant in that manner, the procedure is not theirs).
//
// One photo of a flat sheet cannot tell the marks' absolute size from the camera's height, so alone it gives only
// sx - sy and q. Against a camera placed by a board, sx and sy follow singly, as true as the board's squares.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/locate_by_marks.hpp"

#include <optional>

namespace jigtrue {

struct Figure {
  double value = 0.0;
  double u95 = 0.0;  // half-width, 95 %
};

struct MachineFigures {
  Figure scale_x_less_y;          // sx - sy, relative
  Figure squareness_deg;          // angle between +X and +Y less 90
  std::optional<Figure> scale_x;  // against a board's camera only
  std::optional<Figure> scale_y;
  double rest_mm = 0.0;  // root mean square per mark of what all this leaves; 0 with too few marks to tell
  int marks = 0;
};

// From the photo that gave the pose. Fails with fewer than five marks, or when they do not determine the figures.
[[nodiscard]] Outcome<MachineFigures> machine_figures(const LocatedPhoto& located, const LensRecord& lens);

// Against a camera that was placed by a board and has stood still since.
[[nodiscard]] Outcome<MachineFigures> machine_figures(const LocatedPhoto& located, const CameraRecord& by_board);

}  // namespace jigtrue
