#include "jigtrue/workbench/place_camera.hpp"

#include "jigtrue/calibration/camera_drift.hpp"
#include "jigtrue/calibration/focal_length.hpp"
#include "jigtrue/calibration/locate_by_marks.hpp"
#include "jigtrue/layout/sketch_layout.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/measurement/photo_fault.hpp"
#include "jigtrue/report/move_picture.hpp"

#include <cstdio>
#include <optional>
#include <utility>

namespace jigtrue {
namespace {

std::string moved_note(const CameraDrift& drift, int marks) {
  char text[200];
  std::snprintf(text, sizeof text,
                "The camera has moved by %.1f px (about %.1f mm on the bed); it was placed anew by %d witness marks, "
                "which the uncertainties allow for.",
                drift.largest_px, drift.largest_mm, marks);
  return text;
}

std::string drawn_move(const CameraRecord& record, const Photo& photo, const CameraDrift& drift) {
  const double mm_per_px = drift.largest_px > 0.0 ? drift.largest_mm / drift.largest_px : 0.0;
  std::vector<MarkMove> moves;
  Vector2d middle = Vector2d::Zero();
  for (const WitnessView& view : drift.marks) {
    MarkMove move{view.kept.px, std::nullopt, 0.0};
    if (view.found) {
      move.found_px = view.found->px;
      move.moved_mm = mm_per_px * (view.found->px - view.kept.px).norm();
    }
    moves.push_back(move);
    middle += view.kept.nominal_mm / static_cast<double>(drift.marks.size());
  }
  return move_picture(photo, moves, bed_directions(record.camera, middle));
}

// Where no mark is seen: a photo that is black, white or blurred shows none, and no camera need have moved.
void refuse_faulty_photo(const Photo& photo, const Camera& camera, const Fixture& fixture) {
  if (fixture.slots.empty()) return;
  const SlotParts parts(photo, camera, fixture);
  for (const std::optional<Failure>& fault : {parts.fault_at_once(), parts.fault_if_nothing_measures()})
    if (fault && fault->code != FailureCode::slots_unseen) throw InputError(photo.file, *fault);
}

PlacedCamera watched_camera(const CameraRecord& record, const Photo& photo, const Fixture& fixture,
                            const PlaceOptions& options) {
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
  if (drift.stand == CameraStand::hidden) refuse_faulty_photo(photo, record.camera, fixture);
  std::string picture = options.draw_move ? drawn_move(record, photo, drift) : std::string();
  if (!options.repose) {
    const bool hidden = drift.stand == CameraStand::hidden;
    const FailureCode code = hidden ? FailureCode::marks_hidden : FailureCode::camera_moved;
    throw CameraMoved(photo.file, {drift_reason(record, drift), code, hidden ? "look at the marks" : ""},
                      std::move(picture));
  }
  const Outcome<Repose> anew = repose(record, drift);
  if (!anew)
    throw CameraMoved(photo.file, {anew.reason(), FailureCode::camera_moved, "run pose again"}, std::move(picture));
  placed.camera = anew->camera;
  placed.notes.insert(placed.notes.begin(), moved_note(drift, anew->marks));
  placed.move_picture = std::move(picture);
  return placed;
}

std::string mark_names(const std::vector<std::size_t>& indices) {
  std::string list;
  for (const std::size_t i : indices) list += (list.empty() ? "" : ", ") + std::to_string(i + 1);
  return (indices.size() == 1 ? "mark " : "marks ") + list;
}

PlacedCamera self_located_camera(const LensRecord& lens, const Photo& photo, const Fixture& fixture,
                                 const PlaceOptions& options) {
  LocateOptions locate;
  locate.top = options.top;
  const Outcome<LocatedPhoto> located = locate_by_marks(photo.luma, lens, fixture.marks_mm, locate);
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

bool has_size(const Photo& photo, const Lens& lens) {
  return photo.width_px() == lens.width_px && photo.height_px() == lens.height_px;
}

void turn_it(Photo& photo, PhotoTurn by, const std::string& why, std::vector<std::string>& notes) {
  photo = turned(std::move(photo), by);
  notes.push_back("The photo was turned by " + std::string(to_string(by)) + ": " + why + ".");
}

// A tag that is not the calibration's was written by chance: the camera hangs where it hung. A photo that a program has
// turned has no tag left to tell; then the bed's marks do, where there are any.
std::vector<std::string> lay_alike(const CameraSource& source, Photo& photo) {
  const auto* record = std::get_if<CameraRecord>(&source);
  const LensRecord& lens = record != nullptr ? record->lens : std::get<LensRecord>(source);
  std::vector<std::string> notes;
  if (const PhotoTurn by = turn_between(photo.orientation, lens.orientation); by != PhotoTurn::none)
    turn_it(photo, by, "its orientation tag is not that of the calibration's photos", notes);
  if (record == nullptr || record->witness.empty()) return notes;
  const bool fits = has_size(photo, lens.lens);
  if (fits && watch_camera(photo.luma, *record).stand == CameraStand::agrees) return notes;
  for (const PhotoTurn by : {PhotoTurn::half, PhotoTurn::quarter, PhotoTurn::three_quarters}) {
    Photo other;
    other.luma = photo.luma;
    other = turned(std::move(other), by);
    if (!has_size(other, lens.lens) || watch_camera(other.luma, *record).stand != CameraStand::agrees) continue;
    turn_it(photo, by, "so the bed's marks are where the camera file has them", notes);
    break;
  }
  return notes;
}

// The bed's marks, where they lie as they did, know better than what the file says.
void refuse_other_focal_length(const CameraSource& source, const Photo& photo) {
  const auto* record = std::get_if<CameraRecord>(&source);
  const auto other = other_focal_length(photo, record != nullptr ? record->lens : std::get<LensRecord>(source));
  if (!other) return;
  if (record != nullptr && has_size(photo, record->camera.lens) &&
      watch_camera(photo.luma, *record).stand == CameraStand::agrees)
    return;
  throw InputError(photo.file, *other);
}

PlacedCamera placed_by(const CameraSource& source, const Photo& photo, const Fixture& fixture,
                       const PlaceOptions& options) {
  if (const auto* lens = std::get_if<LensRecord>(&source)) {
    refuse_other_size(photo, lens->lens);
    return self_located_camera(*lens, photo, fixture, options);
  }
  const auto& record = std::get<CameraRecord>(source);
  refuse_other_size(photo, record.camera.lens);
  return watched_camera(record, photo, fixture, options);
}

}  // namespace

CameraMoved::CameraMoved(const std::string& photo, Failure failure, std::string picture)
    : InputError(photo, std::move(failure)), picture_(std::move(picture)) {}

PlacedCamera place_camera(const CameraSource& source, Photo& photo, const Fixture& fixture,
                          const PlaceOptions& options) {
  const std::vector<std::string> notes = lay_alike(source, photo);
  refuse_other_focal_length(source, photo);
  PlacedCamera placed = placed_by(source, photo, fixture, options);
  placed.notes.insert(placed.notes.end(), notes.begin(), notes.end());
  return placed;
}

}  // namespace jigtrue
