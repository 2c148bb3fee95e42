// camera.json: a camera in its place above the bed.
#pragma once
#include "jigtrue/calibration/machine_reading.hpp"
#include "jigtrue/calibration/pose_fit.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// A mark stuck to the bed for good, as seen when the pose was taken: later photos look for it again.
struct WitnessMark {
  Vector2d nominal_mm = Vector2d::Zero();  // as the user gave it, to within some mm
  Vector2d px = Vector2d::Zero();
  double sigma_px = 0.0;
};

struct CameraRecord {
  Camera camera;
  LensRecord lens;
  double rms_px = 0.0;
  std::vector<WitnessMark> witness;
  std::string created;
  std::optional<MachineReading> machine;  // only when burned marks gave the pose, and enough of them
};

struct CameraFileNotes {
  std::string photo;  // as the user named it
  std::string lens_file;
  std::optional<BoardSpec> board;  // with where it lay; absent when marks gave the pose
  std::optional<BoardPlacement> placement;
  std::string marks_file;  // empty when a board gave the pose
  // Of marks, so that they can be fitted again: what the file says of their places, each one's own sigma (one axis),
  // and the height that boards of further photos lay at.
  double mark_place_sigma_mm = 0.0;
  std::vector<double> mark_sigma_px;
  double board_height_mm = 0.0;
  std::string created;
  std::string software;
};

[[nodiscard]] std::string camera_json(const PoseFit& pose, const LensRecord& lens,
                                      const std::vector<WitnessMark>& witness, const CameraFileNotes& notes,
                                      const std::optional<MachineReading>& machine = std::nullopt);

// Throws InputError naming file, field, value and remedy.
[[nodiscard]] CameraRecord read_camera_json(const std::string& json_text, const std::string& file_name);

// What a camera file's pose was fitted from, to fit it again, through another lens for instance. Throws as
// read_camera_json does, and when marks gave the pose.
struct CameraInputs {
  std::vector<FlatBoardPhoto> photos;  // the first one's board lay at `placement`
  BoardPlacement placement;
};
[[nodiscard]] CameraInputs read_camera_inputs(const std::string& json_text, const std::string& file_name);

// The same where marks gave the pose; nothing where a board did. Throws also when the file was made before marks'
// sigmas were kept.
struct MarkInputs {
  std::string photo;
  std::string marks_file;
  double place_sigma_mm = 0.0;
  std::vector<PlacedMark> marks;       // those that agreed; sigma_px: each one's own
  std::vector<FlatBoardPhoto> boards;  // of further photos
  double board_height_mm = 0.0;
};
[[nodiscard]] std::optional<MarkInputs> read_mark_inputs(const std::string& json_text, const std::string& file_name);

}  // namespace jigtrue
