#include "cli/place_camera.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/calibration/camera_drift.hpp"
#include "jigtrue/measurement/check_photo.hpp"

#include <cstdio>

namespace jigtrue::cli {
namespace {

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
  if (!arguments.repose)
    throw input_error(photo.file, drift_reason(record, drift), "or let --repose place it anew by the marks");
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

}  // namespace

void add_camera_options(CLI::App& command, CameraArguments& arguments) {
  command.add_option("--camera", arguments.camera, "camera.json from jigtrue pose");
  command.add_flag("--repose", arguments.repose,
                   "When the camera has moved: place it anew by the bed's witness marks instead of refusing");
}

CameraSource read_camera_source(const CameraArguments& arguments) {
  CameraSource source;
  if (arguments.camera.empty())
    throw input_error("--camera", "it is missing", "give the camera.json that jigtrue pose wrote");
  source.record = read_camera_json(read_text_file(arguments.camera), arguments.camera);
  return source;
}

PlacedCamera place_camera(const CameraArguments& arguments, const CameraSource& source, const Photo& photo,
                          const Fixture& /*fixture*/) {
  refuse_other_size(photo, source.record->camera.lens);
  return watched_camera(arguments, *source.record, photo);
}

}  // namespace jigtrue::cli
