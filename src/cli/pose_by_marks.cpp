#include "cli/pose_marks.hpp"
#include "cli/pose_output.hpp"
#include "cli/pose_photos.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/calibration/camera_drift.hpp"
#include "jigtrue/calibration/marks_and_boards.hpp"
#include "jigtrue/calibration/marks_file.hpp"

#include <cstdio>
#include <utility>

namespace jigtrue::cli {
namespace {

Outcome<LocatedPhoto> located_by_marks(const PoseArguments& arguments, const LensRecord& lens, const Photo& photo,
                                       PhotoTurn by, const MarksFile& file) {
  LocateOptions options;
  options.top = answers_of(arguments, by).top;
  options.field_mm = file.field_mm;
  options.place_sigma_mm = file.sigma_mm;
  options.burned = true;
  return locate_by_marks(photo.luma, lens, file.marks_mm, options);
}

std::string mark_list(const MarksFile& file, const std::vector<std::size_t>& indices) {
  std::string list;
  for (const std::size_t i : indices) {
    char place[64];
    std::snprintf(place, sizeof place, "%s(%g, %g)", list.empty() ? "" : ", ", file.marks_mm[i].x(),
                  file.marks_mm[i].y());
    list += place;
  }
  return list;
}

void add_notes(const MarksFile& file, LocatedPhoto& located) {
  std::vector<std::string>& notes = located.pose.notes;
  if (!located.left_out.empty())
    notes.push_back("left out, for not lying to the others as declared: " + mark_list(file, located.left_out));
  if (!located.not_seen.empty())
    notes.push_back("outside the picture or not seen: " + mark_list(file, located.not_seen));
}

// The compared file speaks for this photo only while the camera stands where it stood.
void refuse_moved(const PoseArguments& arguments, const CameraRecord& compared, const Photo& photo) {
  if (photo.width_px() != compared.camera.lens.width_px || photo.height_px() != compared.camera.lens.height_px)
    throw input_error(arguments.compare, "it is for photos of another size", "give the camera file of this camera");
  // marks that the burned sheet covers say nothing
  const CameraDrift drift = watch_camera(photo.luma, compared);
  if (drift.stand == CameraStand::moved)
    throw input_error(arguments.compare, drift_reason(compared, drift),
                      "compare with a camera file that was made without the camera having moved");
}

// Photos after that of the marks: boards at places that nobody measured.
std::vector<BoardPhoto> boards_beside_marks(const PoseArguments& arguments, const LensRecord& lens,
                                            CameraFileNotes& notes, std::vector<std::string>& turns) {
  std::vector<BoardPhoto> boards;
  if (arguments.photos.size() == 1) {
    refuse_board_options(arguments, "--marks");
    return boards;
  }
  if (arguments.board.empty())
    throw input_error(arguments.photos[1],
                      "photos after that of the marks must show the checkerboard; the marks again elsewhere would "
                      "repeat the machine's faults",
                      "give --board, or one photo of the marks");
  if (!arguments.board_at.empty())
    throw input_error("--board-at", "the marks say where the bed lies, the boards of further photos need no place",
                      "leave it out");
  refuse_odd_height(arguments);
  notes.board = parse_board_spec(arguments.board);
  refuse_odd_board(answers_of(arguments), lens, *notes.board);
  for (auto file = arguments.photos.begin() + 1; file != arguments.photos.end(); ++file)
    boards.push_back(read_board_photo(*file, lens, *notes.board, turns));
  return boards;
}

// What is laid by hand has tolerances and an origin; marks have neither.
void refuse_laying_options(const PoseArguments& arguments) {
  const char* option = arguments.laid_within_mm != 0.0         ? "--laid-within"
                       : arguments.print_within_percent != 0.0 ? "--print-within"
                       : !arguments.origin_px.empty()          ? "--origin-px"
                                                               : nullptr;
  if (option != nullptr)
    throw input_error(option, "it speaks of a board laid by hand, and --marks needs none", "leave it out");
}

}  // namespace

Outcome<MachineReading> machine_reading(const PoseArguments& arguments, const LocatedPhoto& located,
                                        const std::optional<CameraRecord>& compared) {
  const auto figures = compared ? machine_figures(located, *compared) : machine_figures(located);
  if (compared && !figures && located.used.size() >= 5)
    throw input_error(arguments.compare, figures.reason(), "give the camera file of this bed, camera unmoved");
  if (!figures) return figures.failure();
  const auto map = beam_map(located);
  if (!map) return map.failure();
  return MachineReading{*figures, *map};
}

void keep_marks(const LocatedPhoto& located, double place_sigma_mm, CameraFileNotes& notes) {
  notes.mark_place_sigma_mm = place_sigma_mm;
  for (const LocatedMark& mark : located.used) notes.mark_sigma_px.push_back(mark.sigma_px);
}

int pose_by_marks(const PoseArguments& arguments, const std::filesystem::path& page, const LensRecord& lens,
                  Streams streams) {
  refuse_laying_options(arguments);
  const std::string& file = arguments.photos.front();
  CameraFileNotes notes;
  notes.photo = file;
  notes.lens_file = arguments.lens;
  notes.marks_file = arguments.marks;
  const MarksFile marks = read_marks_json(read_text_file(arguments.marks), arguments.marks);
  std::optional<CameraRecord> compared;
  if (!arguments.compare.empty()) compared = read_camera_json(read_text_file(arguments.compare), arguments.compare);
  std::vector<std::string> turns;
  PhotoTurn by = PhotoTurn::none;
  const Photo photo = read_lying_alike(file, lens, turns, by);
  if (compared) refuse_moved(arguments, *compared, photo);
  auto located = located_by_marks(arguments, lens, photo, by, marks);
  if (!located)
    throw input_error(file, located.reason(),
                      "show the whole sheet, sharp and evenly lit, with the marks file that it was burned by, and "
                      "give --photo-top where it is asked for");
  add_notes(marks, *located);
  const std::vector<BoardPhoto> boards = boards_beside_marks(arguments, lens, notes, turns);
  keep_marks(*located, marks.sigma_mm, notes);
  notes.board_height_mm = arguments.board_height_mm.value_or(0.0);
  located = strengthen_by_boards(lens, *located, flat_boards(boards), notes.board_height_mm);
  if (!located) throw InputError("", located.failure());
  PoseFit& pose = located->pose;
  pose.notes.insert(pose.notes.end(), turns.begin(), turns.end());
  add_questions(arguments, file, by, lens, std::nullopt, pose);
  const std::vector<WitnessMark> witness = witness_marks(arguments, notes, photo, pose, streams);
  notes.created = time_now();
  notes.software = software_name();
  const Outcome<MachineReading> machine = machine_reading(arguments, *located, compared);
  const std::string json =
      camera_json(pose, lens, witness, notes, machine ? std::optional<MachineReading>(*machine) : std::nullopt);
  if (!witness.empty()) refuse_moved_between(file, boards, read_camera_json(json, arguments.output));
  write_pose(arguments, page, pose, json, count_of(arguments.photos) + ", " + arguments.marks, notes, &photo);
  print_pose(lens, pose, true, streams);
  print_machine(machine, streams);
  print_files(arguments, page, streams);
  return 0;
}

}  // namespace jigtrue::cli
