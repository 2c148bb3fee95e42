// The pose's own photo with the bed drawn into it: what was declared wrongly is seen at a glance.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/pose_fit.hpp"
#include "jigtrue/report/calibration_page.hpp"

#include <string>

namespace jigtrue::page {

[[nodiscard]] std::string bed_picture_style();

// Grid of the bed at height 0 with its coordinates, its X and Y from the machine's zero, the front, the board as it is
// said to lie with its origin, sides and +X (or the marks that gave the pose), and the witness marks.
[[nodiscard]] std::string bed_picture(const PoseFit& pose, const CameraRecord& record, const PosePageInputs& inputs);

}  // namespace jigtrue::page
