// The pages beside lens.json and camera.json: how good the calibration is, and what would make it better.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/lens_fit.hpp"

#include <string>

namespace jigtrue {

struct CalibrationPageNotes {
  std::string source;            // what was calibrated from, in the user's words: a board, a photo
  std::string created;           // ISO 8601
  std::string software_version;  // e.g. "0.1.0"
};

// Each is one self-contained UTF-8 file, drawings as vectors, no script, nothing fetched (a content security policy
// forbids it). Throws std::logic_error when a number is not finite.
[[nodiscard]] std::string lens_page(const LensFit& fit, const CalibrationPageNotes& notes);

// `record`: as camera.json has it, so that the numbers are those that the file gives from then on. The bed's maps are
// drawn at height 0 and at height_mm.
[[nodiscard]] std::string pose_page(const PoseFit& pose, const CameraRecord& record, double height_mm,
                                    const CalibrationPageNotes& notes);

}  // namespace jigtrue
