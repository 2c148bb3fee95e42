#include "cli/pose_marks.hpp"
#include "cli/pose_output.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/calibration/marks_and_boards.hpp"

#include <utility>

namespace jigtrue::cli {
namespace {

std::vector<std::string> files_of(const std::vector<FlatBoardPhoto>& photos) {
  std::vector<std::string> files;
  files.reserve(photos.size());
  for (const FlatBoardPhoto& photo : photos) files.push_back(photo.file);
  return files;
}

// The pose once more from the marks, and boards beside them, that a camera file keeps.
int refit_marks(const PoseArguments& arguments, const std::filesystem::path& page, const CameraRecord& before,
                const LensRecord& lens, const MarkInputs& inputs, Streams streams) {
  if (lens.lens.width_px != before.lens.lens.width_px || lens.lens.height_px != before.lens.lens.height_px)
    throw input_error("--lens", "it is for photos of another size than " + inputs.photo, "give this camera's lens");
  LocateOptions options;
  options.place_sigma_mm = inputs.place_sigma_mm;
  options.burned = true;
  auto located = locate_by_kept_marks(lens, inputs.marks, before.camera.camera_from_bed, options);
  if (!located) throw input_error(arguments.refit, located.reason());
  CameraFileNotes notes;
  keep_marks(*located, inputs.place_sigma_mm, notes);
  located = strengthen_by_boards(lens, *located, inputs.boards, inputs.board_height_mm);
  if (!located) throw input_error(arguments.refit, located.reason());
  notes.photo = inputs.photo;
  notes.lens_file = arguments.lens.empty() ? arguments.refit : arguments.lens;
  notes.marks_file = inputs.marks_file;
  if (!inputs.boards.empty()) notes.board = inputs.boards.front().corners.board;
  notes.board_height_mm = inputs.board_height_mm;
  notes.created = time_now();
  notes.software = software_name();
  const Outcome<MachineReading> machine = machine_reading(arguments, *located, std::nullopt);
  const std::string json = camera_json(located->pose, lens, before.witness, notes,
                                       machine ? std::optional<MachineReading>(*machine) : std::nullopt);
  write_pose(arguments, page, located->pose, json, inputs.photo + ", marks as kept in " + arguments.refit, notes);
  print_pose(lens, located->pose, true, streams);
  print_machine(machine, streams);
  print_files(arguments, page, streams);
  return 0;
}

}  // namespace

int pose_again(const PoseArguments& arguments, const std::filesystem::path& page, Streams streams) {
  if (!arguments.photos.empty() || !arguments.marks.empty() || !arguments.witness.empty())
    throw input_error("--refit", "it cannot be combined with a photo, --marks or --witness",
                      "give the camera file that keeps them, and --lens where another lens is meant");
  refuse_board_options(arguments, "--refit");
  const std::string text = read_text_file(arguments.refit);
  const CameraRecord before = read_camera_json(text, arguments.refit);
  const LensRecord lens =
      arguments.lens.empty() ? before.lens : read_lens_json(read_text_file(arguments.lens), arguments.lens);
  if (const auto marks = read_mark_inputs(text, arguments.refit))
    return refit_marks(arguments, page, before, lens, *marks, streams);
  const CameraInputs inputs = read_camera_inputs(text, arguments.refit);
  const auto pose = fit_pose_to_boards(lens, inputs.photos, inputs.placement);
  if (!pose) throw input_error(arguments.refit, pose.reason());
  CameraFileNotes notes;
  notes.photo = inputs.photos.front().file;
  notes.lens_file = arguments.lens.empty() ? arguments.refit : arguments.lens;
  notes.board = inputs.photos.front().corners.board;
  notes.placement = inputs.placement;
  notes.created = time_now();
  notes.software = software_name();
  const std::string json = camera_json(*pose, lens, before.witness, notes);
  write_pose(arguments, page, *pose, json, count_of(files_of(inputs.photos)) + ", as kept in " + arguments.refit,
             notes);
  print_pose(lens, *pose, false, streams);
  print_files(arguments, page, streams);
  return 0;
}

}  // namespace jigtrue::cli
