// The pages beside lens.json and camera.json: how good the calibration is, and what would make it better.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/lens_fit.hpp"
#include "jigtrue/image/photo.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

struct CalibrationPageNotes {
  std::string source;            // what was calibrated from, in the user's words: a board, a photo
  std::string created;           // ISO 8601
  std::string software_version;  // e.g. "0.1.0"
};

// Each is one self-contained UTF-8 file, drawings as vectors, no script, nothing fetched (a content security policy
// forbids it). Throws std::logic_error when a number is not finite.
// `faults`: of single photos, in whole sentences (photo_faults).
[[nodiscard]] std::string lens_page(const LensFit& fit, const std::vector<std::string>& faults,
                                    const CalibrationPageNotes& notes);

// What the camera's page shows beside the pose itself.
struct PosePageInputs {
  double height_mm = 14.0;       // of the second of the bed's maps; the first is drawn at height 0
  const Photo* photo = nullptr;  // that gave the pose; without it the bed is drawn on an empty picture
  std::optional<BoardSpec> board;
  std::optional<BoardPlacement> placement;  // nothing when marks gave the pose
  double mark_place_sigma_mm = 0.0;         // what is said of burned marks' places, one axis
};
// `record`: as camera.json has it, so that the numbers are those that the file gives from then on.
[[nodiscard]] std::string pose_page(const PoseFit& pose, const CameraRecord& record, const PosePageInputs& inputs,
                                    const CalibrationPageNotes& notes);

}  // namespace jigtrue
