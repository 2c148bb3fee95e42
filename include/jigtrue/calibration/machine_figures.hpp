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
#include "jigtrue/calibration/machine_reading.hpp"

namespace jigtrue {

// From the photo that gave the pose, located as burned marks. Fails with fewer than five.
[[nodiscard]] Outcome<MachineFigures> machine_figures(const LocatedPhoto& located);

// Against a camera that was placed by a board and has stood still since.
[[nodiscard]] Outcome<MachineFigures> machine_figures(const LocatedPhoto& located, const CameraRecord& by_board);

// What the machine must be told, from the same photo. One to one when the figures are smaller than their uncertainty:
// then the pose was fitted without them. Fails with fewer than five marks.
[[nodiscard]] Outcome<BeamMap> beam_map(const LocatedPhoto& located);

}  // namespace jigtrue
