// A pose from burned marks: what fresh ones and those kept in a camera file have in common.
#pragma once
#include "cli/pose_arguments.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/locate_by_marks.hpp"
#include "jigtrue/calibration/machine_figures.hpp"

#include <optional>

namespace jigtrue::cli {

// What the marks say about the machine, beside the camera file of a board where one is given.
[[nodiscard]] Outcome<MachineReading> machine_reading(const PoseArguments& arguments, const LocatedPhoto& located,
                                                      const std::optional<CameraRecord>& compared);

void keep_marks(const LocatedPhoto& located, double place_sigma_mm, CameraFileNotes& notes);

}  // namespace jigtrue::cli
