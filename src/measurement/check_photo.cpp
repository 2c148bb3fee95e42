#include "jigtrue/measurement/check_photo.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/measurement/fixture_marks.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"
#include "jigtrue/measurement/photo_fault.hpp"
#include "jigtrue/measurement/prepare_photo.hpp"
#include "jigtrue/measurement/working_view.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>

namespace jigtrue {
namespace {

std::string picture_size(int width, int height) { return std::to_string(width) + " x " + std::to_string(height); }

// A blank that lies off in its slot, apart from where the fixture as a whole stands.
void note_strays(const Fixture& fixture, const FixturePlacement& marked, CheckResult& result) {
  constexpr double kWorthSaying_mm = 0.25;
  const Vector2d centre = common_centre_mm(fixture);
  std::string list;
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    const SlotResult& slot = result.slots[i];
    if (!slot.numbers) continue;
    const double heading = rad_from_deg(fixture.slots[i].axis_deg + marked.turn_deg);
    const Vector2d across(-std::sin(heading), std::cos(heading));
    const double off = (slot.numbers->centre_mm - placed_mm(marked, centre, slot.nominal_centre_mm)).dot(across);
    if (std::abs(off) < std::max(kWorthSaying_mm, slot.numbers->uncertainty.across_mm)) continue;
    char text[64];
    std::snprintf(text, sizeof text, "%+.2f mm across", off);
    list += (list.empty() ? "slot " : ", slot ") + slot.id + " by " + text;
  }
  if (!list.empty())
    result.notes.push_back("Beside the fixture's own shift and turn, blanks lie off in their slots: " + list + ".");
}

void refuse(const Photo& photo, const std::optional<Failure>& fault) {
  if (fault) throw InputError(photo.file, *fault);
}

// Where no blank at all could be measured the photo may be at fault, or it is not the one that the files are for.
void judge_whole(const Photo& photo, const SlotParts& parts, CheckResult& result) {
  const auto in_all = [&](auto&& holds) { return std::all_of(result.slots.begin(), result.slots.end(), holds); };
  if (!in_all([](const SlotResult& slot) { return !slot.numbers; })) return;
  refuse(photo, parts.fault_if_nothing_measures());
  if (in_all([](const SlotResult& slot) { return slot.state == SlotState::doubtful; }))
    result.notes.emplace_back(
        "No slot can be told. Does the fixture lie where its file says, and has the camera not been moved since it was "
        "calibrated?");
}

}  // namespace

void refuse_other_size(const Photo& photo, const Lens& lens) {
  if (photo.width_px() != lens.width_px || photo.height_px() != lens.height_px)
    throw input_error(photo.file,
                      "the photo is " + picture_size(photo.width_px(), photo.height_px()) + " px, the calibration " +
                          picture_size(lens.width_px, lens.height_px) + " px",
                      "take it with the same camera, resolution and orientation as the calibration's photos");
}

CheckResult check_photo(const Photo& photo, const Camera& camera, const Fixture& fixture, const CheckOptions& options) {
  EdgeModelStore models;
  return check_photo(photo, camera, fixture, options, models);
}

CheckResult check_photo(const Photo& photo, const Camera& camera, const Fixture& fixture, const CheckOptions& options,
                        EdgeModelStore& models) {
  refuse_other_size(photo, camera.lens);
  CheckResult result;
  result.photo_file = photo.file;
  result.fixture_name = fixture.name;
  result.width_px = photo.width_px();
  result.height_px = photo.height_px();
  result.slots.resize(fixture.slots.size());

  const SlotParts parts(photo, camera, fixture);
  refuse(photo, parts.fault_at_once());
  std::optional<FixturePlacement> marked;
  if (!fixture.marks_mm.empty()) {
    const auto found = place_fixture_by_marks(photo.luma, camera, fixture, options.lens_error_px);
    if (found) {
      marked = found->placement;
      result.notes = found->notes;
    } else {
      result.notes.push_back("The fixture's marks do not tell where it stands: " + found.reason() +
                             "; its slots' nominal places were searched.");
    }
  }
  const WorkingView view = working_view(photo, camera, fixture);
  const PreparedPhoto prepared =
      prepare_photo(view.photo, view.camera, fixture, marked, options.range, options.threads, models);
  MeasureOptions measure;
  measure.lens_error_px = options.lens_error_px / view.shrink;
  measure.blur = prepared.blur;
  measure.clutter = prepared.clutter;
  in_parallel(prepared.tasks.size(), options.threads, [&](std::size_t i, std::size_t) {
    result.slots[i] =
        measure_slot(view.photo, prepared.picture, view.camera, camera, prepared.tasks[i], measure, models);
  });

  judge_whole(photo, parts, result);
  result.placement = marked ? marked : placement_from_slots(fixture, result.slots);
  if (marked) note_strays(fixture, *marked, result);
  return result;
}

}  // namespace jigtrue
