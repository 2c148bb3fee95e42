#include "cli/place_camera.hpp"

#include "cli/photo_top.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/write_file.hpp"

namespace jigtrue::cli {
void add_camera_options(CLI::App& command, CameraArguments& arguments) {
  command.add_option("--camera", arguments.camera, "camera.json from jigtrue pose");
  command.add_flag("--self-locate", arguments.self_locate,
                   "No camera.json: the fixture's own marks, taken to stand at their nominal places, say where the "
                   "photo was taken from");
  command.add_option("--lens", arguments.lens, "lens.json of the camera, with --self-locate");
  add_photo_top(command, arguments.photo_top,
                "With --self-locate: back, front, left or right: the side of the bed at the top of the photo. Needed "
                "only when the marks look the same from several sides");
  command.add_flag("--repose", arguments.repose,
                   "When the camera has moved: place it anew by the bed's witness marks instead of refusing");
  command.add_option("--show-move", arguments.show_move,
                     "JPEG to write when the camera has moved: where its marks were expected and where they are");
}

CameraSource read_camera_source(const CameraArguments& arguments) {
  if (arguments.self_locate) {
    if (!arguments.camera.empty())
      throw input_error("--self-locate", "it cannot be combined with --camera", "give one of the two");
    if (arguments.repose) throw input_error("--repose", "it cannot be combined with --self-locate", "leave it out");
    if (arguments.lens.empty()) throw input_error("--self-locate", "it needs --lens", "give the camera's lens.json");
    return read_lens_json(read_text_file(arguments.lens), arguments.lens);
  }
  if (!arguments.lens.empty())
    throw input_error("--lens", "it serves --self-locate only", "camera.json holds its lens: leave --lens out");
  if (arguments.camera.empty())
    throw input_error("--camera", "it is missing",
                      "give the camera.json that jigtrue pose wrote, or --self-locate with --lens");
  return read_camera_json(read_text_file(arguments.camera), arguments.camera);
}

void refuse_moved_camera(const CameraArguments& arguments, const std::string& photo, const CameraMoved& moved) {
  if (!arguments.show_move.empty()) write_files({{arguments.show_move, moved.picture()}});
  if (arguments.repose) throw moved;
  Failure failure = moved.failure();
  if (failure.code == FailureCode::camera_moved) failure.remedy = "or let --repose place it anew by the marks";
  failure.remedy +=
      arguments.show_move.empty() ? "; --show-move FILE draws where they are" : "; drawn in " + arguments.show_move;
  throw InputError(photo, failure);
}

}  // namespace jigtrue::cli
