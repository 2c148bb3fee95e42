// Where the camera stood when a check's photo was taken: as its file says and the bed's marks confirm, or by the
// fixture's own marks.
#pragma once
#include "cli/commands.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue::cli {

struct CameraArguments {
  std::string camera;        // camera.json
  bool self_locate = false;  // by the fixture's marks instead
  std::string lens;          // lens.json, with self_locate
  std::string photo_top;     // back, front, left or right, with self_locate
  bool repose = false;       // solve the pose anew when the camera has moved
  std::string show_move;     // where to draw expected and found marks when it has
};
void add_camera_options(CLI::App& command, CameraArguments& arguments);

// What the options name, read before the photo. Throws InputError, also when the options contradict each other.
struct CameraSource {
  std::optional<CameraRecord> record;
  std::optional<LensRecord> lens;
};
[[nodiscard]] CameraSource read_camera_source(const CameraArguments& arguments);

struct PlacedCamera {
  Camera camera;
  double lens_error_px = 0.0;
  std::optional<WitnessFinding> witness;
  std::vector<std::string> notes;
  bool self_located = false;
};
// Throws InputError when the photo's size is not the camera's, when the camera has moved, or when it cannot be placed.
[[nodiscard]] PlacedCamera place_camera(const CameraArguments& arguments, const CameraSource& source,
                                        const Photo& photo, const Fixture& fixture);

}  // namespace jigtrue::cli
