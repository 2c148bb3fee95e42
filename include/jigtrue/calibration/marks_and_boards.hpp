// The pose of a photo of burned marks, its plane made surer by photos of a checkerboard laid flat beside them.
//
// One camera that stands still between the photos. The marks give the bed's frame; each board lies at a place nobody
// measured, its printed face parallel to the bed. Fitted together: the pose, what the machine does to its marks (as in
// fit_burned_marks, where five or more were found), each board's place (x, y, turn), and one scale of all boards
// against the marks. The print's millimetres and the machine's differ by more than the camera can see, and a height
// given wrongly looks like such a scale: so boards say nothing of the origin, nor of sizes, but how the bed is tilted,
// which a machine's faults cannot imitate on a board.
//
// Weights: a mark by its own sigma and the machine's; the boards' corners by the full covariance of their errors
// (alone, together, what the model misses the lens by, and by what the lens's uncertainty moves a board against where
// the marks have put it). The covariance is that of this estimate, the lens held as it is.
#pragma once
#include "jigtrue/calibration/locate_by_marks.hpp"

namespace jigtrue {

// `marks` with its pose, its figures of the machine and their uncertainties replaced; pose.further and pose.notes tell
// of the boards. height_mm: of the printed face above the bed. Fails, naming the photo and what to do: as board_pose
// does; a board in another plane than the marks' or than another board, beyond what errors of corners, marks and lens
// explain; boards that lie alike; a scale off by more than 2 %.
[[nodiscard]] Outcome<LocatedPhoto> strengthen_by_boards(const LensRecord& lens, const LocatedPhoto& marks,
                                                         const std::vector<FlatBoardPhoto>& boards, double height_mm);

}  // namespace jigtrue
