// The options that say where the camera stood when a check's photo was taken.
#pragma once
#include "cli/commands.hpp"
#include "jigtrue/workbench/place_camera.hpp"

#include <string>

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
[[nodiscard]] CameraSource read_camera_source(const CameraArguments& arguments);

// Writes where a camera that has moved sees its marks, and says so in the failure, which it throws anew.
[[noreturn]] void refuse_moved_camera(const CameraArguments& arguments, const std::string& photo,
                                      const CameraMoved& moved);

}  // namespace jigtrue::cli
