#include "cli/place_camera.hpp"

#include "cli/photo_top.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/calibration/camera_drift.hpp"
#include "jigtrue/calibration/locate_by_marks.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/report/move_picture.hpp"

#include <cstdio>

namespace jigtrue::cli {
namespace {

void show_move(const CameraArguments& arguments, const Photo& photo, const CameraDrift& drift) {
  if (arguments.show_move.empty()) return;
  std::vector<MarkMove> moves;
  for (const WitnessView& view : drift.marks)
    moves.push_back({view.kept.px, view.found ? std::optional<Vector2d>(view.found->px) : std::nullopt});
  write_files({{arguments.show_move, move_picture(photo, moves)}});
}

InputError moved_error(const CameraArguments& arguments, const CameraRecord& record, const Photo& photo,
                       const CameraDrift& drift) {
  std::string help = "or let --repose place it anew by the marks";
  if (drift.stand == CameraStand::hidden) help = "look at the marks";
  return input_error(photo.file, drift_reason(record, drift),
                     help + (arguments.show_move.empty() ? "; --show-move FILE draws where they are"
                                                         : "; drawn in " + arguments.show_move));
}

PlacedCamera watched_camera(const CameraArguments& arguments, const CameraRecord& record, const Photo& photo) {
  PlacedCamera placed;
  placed.camera = record.camera;
  placed.lens_error_px = record.lens.model_error_px;
  const CameraDrift drift = watch_camera(photo.luma, record);
  if (drift.stand == CameraStand::unknown) return placed;
  placed.witness = WitnessFinding{drift.seen, static_cast<int>(drift.marks.size()), drift.largest_px, drift.largest_mm};
  placed.notes = drift_notes(drift);
  if (drift.stand == CameraStand::agrees) {
    placed.camera.covariance.bottomRightCorner<6, 6>() += unnoticed_motion(record, drift);
    return placed;
  }
  show_move(arguments, photo, drift);
  if (!arguments.repose) throw moved_error(arguments, record, photo, drift);
  const Outcome<Repose> anew = repose(record, drift);
  if (!anew) throw input_error(photo.file, anew.reason(), "run pose again");
  placed.camera = anew->camera;
  char text[200];
  std::snprintf(text, sizeof text,
                "The camera has moved by %.1f px (about %.1f mm on the bed); it was placed anew by %d witness marks, "
                "which the uncertainties allow for.",
                drift.largest_px, drift.largest_mm, anew->marks);
  placed.notes.insert(placed.notes.begin(), text);
  return placed;
}

std::string mark_names(const std::vector<std::size_t>& indices) {
  std::string list;
  for (const std::size_t i : indices) list += (list.empty() ? "" : ", ") + std::to_string(i + 1);
  return (indices.size() == 1 ? "mark " : "marks ") + list;
}

PlacedCamera self_located_camera(const CameraArguments& arguments, const LensRecord& lens, const Photo& photo,
                                 const Fixture& fixture) {
  LocateOptions options;
  options.top = photo_top(arguments.photo_top);
  const Outcome<LocatedPhoto> located = locate_by_marks(photo.luma, lens, fixture.marks_mm, options);
  if (!located)
    throw input_error(
        photo.file, "the photo cannot be located by the fixture's marks: " + located.reason(),
        "show at least four of them, sharp and uncovered, give --photo-top where it is asked for, or use --camera");
  PlacedCamera placed;
  placed.camera = located->pose.camera;
  placed.lens_error_px = lens.model_error_px;
  placed.self_located = true;
  if (!located->left_out.empty())
    placed.notes.push_back("Left out, for not lying to the others as the fixture file says: " +
                           mark_names(located->left_out) + " of the fixture.");
  if (!located->not_seen.empty())
    placed.notes.push_back("Not seen: " + mark_names(located->not_seen) + " of the fixture.");
  return placed;
}

}  // namespace

void add_camera_options(CLI::App& command, CameraArguments& arguments) {
  command.add_option("--camera", arguments.camera, "camera.json from jigtrue pose");
  command.add_flag("--self-locate", arguments.self_locate,
                   "No camera.json: the fixture's own marks, taken to stand at their nominal places, say where the "
                   "photo was taken from");
  command.add_option("--lens", arguments.lens, "lens.json of the camera, with --self-locate");
  add_photo_top(command, arguments.photo_top, "With --self-locate");
  command.add_flag("--repose", arguments.repose,
                   "When the camera has moved: place it anew by the bed's witness marks instead of refusing");
  command.add_option("--show-move", arguments.show_move,
                     "JPEG to write when the camera has moved: where its marks were expected and where they are");
}

CameraSource read_camera_source(const CameraArguments& arguments) {
  CameraSource source;
  if (arguments.self_locate) {
    if (!arguments.camera.empty())
      throw input_error("--self-locate", "it cannot be combined with --camera", "give one of the two");
    if (arguments.repose) throw input_error("--repose", "it cannot be combined with --self-locate", "leave it out");
    if (arguments.lens.empty()) throw input_error("--self-locate", "it needs --lens", "give the camera's lens.json");
    source.lens = read_lens_json(read_text_file(arguments.lens), arguments.lens);
    return source;
  }
  if (!arguments.lens.empty())
    throw input_error("--lens", "it serves --self-locate only", "camera.json holds its lens: leave --lens out");
  if (arguments.camera.empty())
    throw input_error("--camera", "it is missing",
                      "give the camera.json that jigtrue pose wrote, or --self-locate with --lens");
  source.record = read_camera_json(read_text_file(arguments.camera), arguments.camera);
  return source;
}

PlacedCamera place_camera(const CameraArguments& arguments, const CameraSource& source, const Photo& photo,
                          const Fixture& fixture) {
  refuse_other_size(photo, source.lens ? source.lens->lens : source.record->camera.lens);
  if (source.lens) return self_located_camera(arguments, *source.lens, photo, fixture);
  return watched_camera(arguments, *source.record, photo);
}

}  // namespace jigtrue::cli
