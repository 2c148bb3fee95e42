#include "jigtrue/measurement/check_photo.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/image/shrink_photo.hpp"
#include "jigtrue/measurement/both_looks.hpp"
#include "jigtrue/measurement/empty_view.hpp"
#include "jigtrue/measurement/fixture_marks.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"
#include "jigtrue/measurement/judge_by_empty.hpp"
#include "jigtrue/measurement/judge_by_load.hpp"
#include "jigtrue/measurement/look_around.hpp"
#include "jigtrue/measurement/photo_fault.hpp"
#include "jigtrue/measurement/prepare_photo.hpp"
#include "jigtrue/measurement/scale_of_load.hpp"
#include "jigtrue/measurement/working_view.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "measurement/scouted_instead.hpp"

namespace jigtrue {
namespace {

std::string picture_size(int width, int height) { return std::to_string(width) + " x " + std::to_string(height); }

// A blank that lies off in its slot, apart from where the fixture as a whole stands.
void note_strays(const Fixture& fixture, const FixturePlacement& marked, PhotoFindings& findings) {
  constexpr double kWorthSaying_mm = 0.25;  // off its slot beside the fixture's own shift: what a person would see
  const Vector2d centre = common_centre_mm(fixture);
  std::string list;
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    const SlotResult& slot = findings.slots[i];
    if (!slot.numbers) continue;
    const double heading = rad_from_deg(fixture.slots[i].axis_deg + marked.turn_deg);
    const Vector2d across = turned_left(unit_vector(heading));
    const double off = (slot.numbers->centre_mm - placed_mm(marked, centre, slot.nominal_centre_mm)).dot(across);
    if (std::abs(off) < std::max(kWorthSaying_mm, slot.numbers->uncertainty.across_mm)) continue;
    char text[64];
    std::snprintf(text, sizeof text, "%+.2f mm across", off);
    list += (list.empty() ? "slot " : ", slot ") + slot.id + " by " + text;
  }
  if (!list.empty())
    findings.notes.push_back("Beside the fixture's own shift and turn, blanks lie off in their slots: " + list + ".");
}

void refuse(const Photo& photo, const std::optional<Failure>& fault) {
  if (fault) throw InputError(photo.file, *fault);
}

// All that measuring a slot takes.
struct Measuring {
  const Photo& photo;  // as taken
  const WorkingView& view;
  const Camera& camera;  // of the photo as taken
  const Fixture& fixture;
  const PreparedPhoto& prepared;
  const MeasureOptions& measure;
  EdgeModelStore& models;
};

MeasureOptions measure_options(const PreparedPhoto& prepared, double lens_error_px) {
  MeasureOptions measure;
  measure.lens_error_px = lens_error_px;
  measure.blur = prepared.blur;
  return measure;
}

// A slot that looks the same in both photos is empty in both, or loaded in both.
std::optional<std::string> loaded_in(const Photo& empty, const EmptyView& seen, const Measuring& m) {
  std::optional<SearchPicture> picture;
  for (SlotTask task : m.prepared.tasks) {
    if (!change_of_slot(seen.changes, m.view.camera, task.slot, task.expected).as_it_was()) continue;
    if (!picture) picture = make_search_picture(empty, m.prepared.picture.shrink);
    task.coarse = search_slot(*picture, m.view.camera, task.slot.blank, task.slot.seat, task.expected, task.range);
    const SlotResult there = measure_slot(empty, *picture, m.view.camera, m.camera, task, m.measure, m.models).result;
    if (there.state == SlotState::found || there.state == SlotState::mismatch) return task.slot.id;
  }
  return std::nullopt;
}

// Something that covers a jig leaves some of its slots in sight; a photo of another bed shows none of them as it is.
std::optional<std::string> of_another_place(const EmptyView& seen, const Measuring& m) {
  constexpr std::size_t kFewest = 3;   // slots, to speak of most of them
  constexpr double kNearlyAll = 0.75;  // of the slots
  const std::vector<SlotTask>& tasks = m.prepared.tasks;
  const auto covered = static_cast<std::size_t>(std::count_if(tasks.begin(), tasks.end(), [&](const SlotTask& task) {
    return change_of_slot(seen.changes, m.view.camera, task.slot, task.expected).covered();
  }));
  if (covered < kFewest || static_cast<double>(covered) < kNearlyAll * static_cast<double>(tasks.size()))
    return std::nullopt;
  return "beside " + std::to_string(covered) + " of " + std::to_string(tasks.size()) +
         " slots it shows something else than the load's photo: another bed, or other things beside the jig";
}

// In the working view's pixels; or why it is not to be believed.
Outcome<EmptyView> believable_view(const Photo& empty, const Measuring& m) {
  if (empty.width_px() != m.photo.width_px() || empty.height_px() != m.photo.height_px())
    return Failure{"it is " + picture_size(empty.width_px(), empty.height_px()) + " px, the load's photo " +
                   picture_size(m.photo.width_px(), m.photo.height_px()) + " px"};
  std::vector<BlankPlace> places;
  for (const SlotTask& task : m.prepared.tasks) places.push_back(task.expected);
  const Photo coarse = shrunk(empty, m.view.shrink);
  auto seen = register_empty(m.view.photo, coarse, m.view.camera, m.fixture, places);
  if (!seen) return seen;
  if (auto elsewhere = of_another_place(*seen, m)) return Failure{std::move(*elsewhere)};
  if (const auto loaded = loaded_in(coarse, *seen, m)) return Failure{"it shows a blank in slot " + *loaded};
  return seen;
}

// What the empty photo shows of the jig as it lies now; nothing, with a note, when it is not to be believed.
std::optional<EmptyView> empty_view(const Measuring& m, const Photo* empty, std::vector<std::string>& notes) {
  if (empty == nullptr) return std::nullopt;
  auto seen = believable_view(*empty, m);
  if (seen) return std::move(seen).value();
  notes.push_back("The empty photo (" + empty->file + ") was not used: " + seen.reason() +
                  ". Take one of this jig without blanks, in its place, by this camera.");
  return std::nullopt;
}

// Where no blank at all could be measured the photo may be at fault, or it is not the one that the files are for.
void judge_whole(const Photo& photo, const SlotParts& parts, bool told, PhotoFindings& findings) {
  const auto in_all = [&](auto&& holds) { return std::all_of(findings.slots.begin(), findings.slots.end(), holds); };
  if (!in_all([](const SlotResult& slot) { return !slot.numbers; })) return;
  refuse(photo, parts.fault_if_nothing_measures());
  if (!told && in_all([](const SlotResult& slot) { return slot.state == SlotState::doubtful; }))
    findings.notes.emplace_back(
        "No slot can be told. Does the fixture lie where its file says, and has the camera not been moved since it was "
        "calibrated?");
}

// The first `count` slots; with what the empty photo shows of the jig, if there is one.
std::vector<MeasuredSlot> measured_slots(const Measuring& m, std::size_t count, const std::optional<EmptyView>& empty,
                                         int threads) {
  std::optional<BareJig> jig;
  std::vector<SlotTask> on_jig;
  MeasureOptions beyond_jig = m.measure;
  if (empty) {
    jig.emplace(BareJig{empty->photo, empty->known, empty->place_sigma_px});
    on_jig = tasks_on_jig(m.view.photo, m.view.camera, *jig, threads, m.models, m.prepared);
    beyond_jig.bare_jig = &*jig;
  }
  std::vector<MeasuredSlot> slots(count);
  in_parallel(count, threads, [&](std::size_t i, std::size_t) {
    const SlotTask& task = m.prepared.tasks[i];
    const auto measured = [&](const SlotTask& looked_for, const MeasureOptions& by) {
      MeasuredSlot slot =
          measure_slot(m.view.photo, m.prepared.picture, m.view.camera, m.camera, looked_for, by, m.models);
      slot.result.need = m.fixture.need;
      return slot;
    };
    slots[i] = measured(task, m.measure);
    if (!empty) return;
    slots[i] = of_both_looks(std::move(slots[i]), measured(on_jig[i], beyond_jig));
    judge_by_empty(empty->changes, m.view.camera, task.slot, task.expected, slots[i].result);
  });
  return slots;
}

// Of what has ends.
bool both_ends_seen(const SlotResult& slot) {
  return !slot.length || (slot.length->start_seen && slot.length->end_seen);
}

// Whether what was found at another scale is one of the places that the first look left open. What that did not see at
// all, and saw another place instead, is grain beside an edge of the jig as likely as not.
bool was_left_open(const std::vector<Vector2d>& places_mm, const SlotResult& found) {
  constexpr double kSame_mm = 0.5;  // as far as edges are told apart in a coarse view
  return places_mm.empty() || std::any_of(places_mm.begin(), places_mm.end(), [&](const Vector2d& place_mm) {
           return (place_mm - found.numbers->blank.centre_mm).norm() < kSame_mm;
         });
}

// Slots where too little was seen, looked at again at other scales. What tells a blank (a rounded rim, its shadow,
// print on its face) has a scale of its own, which no single one fits.
void look_again(const Measuring& first, const CheckOptions& options, std::vector<MeasuredSlot>& slots) {
  constexpr std::size_t kBeside = 3;  // blanks found, which tell the blur
  const auto is_unclear = [&](std::size_t i) {
    const SlotResult& slot = slots[i].result;
    return slot.state == SlotState::doubtful && slot.too_little_seen && !slot.covered;
  };
  for (const double shrink : other_scales(first.camera, first.fixture, first.view.shrink)) {
    std::vector<std::size_t> unclear;
    std::vector<SlotTask> tasks;
    for (std::size_t i = 0; i < slots.size(); ++i) {
      if (!is_unclear(i)) continue;
      unclear.push_back(i);
      tasks.push_back(first.prepared.tasks[i]);
    }
    if (unclear.empty()) return;
    for (std::size_t i = 0; i < slots.size() && tasks.size() < unclear.size() + kBeside; ++i)
      if (slots[i].result.state == SlotState::found && tells_of_load(slots[i].result))
        tasks.push_back(first.prepared.tasks[i]);
    const WorkingView view = view_at(first.photo, first.camera, shrink);
    const PreparedPhoto prepared =
        prepare_tasks(view.photo, view.camera, std::move(tasks), options.threads, first.models);
    const MeasureOptions measure = measure_options(prepared, options.lens_error_px / shrink);
    std::vector<std::string> said_already;
    const Measuring again{first.photo, view, first.camera, first.fixture, prepared, measure, first.models};
    const auto empty = empty_view(again, options.empty, said_already);
    std::vector<MeasuredSlot> seen = measured_slots(again, unclear.size(), empty, options.threads);
    for (std::size_t k = 0; k < unclear.size(); ++k)
      if (seen[k].result.state == SlotState::found && tells_of_load(seen[k].result) && both_ends_seen(seen[k].result) &&
          was_left_open(slots[unclear[k]].may_lie_mm, seen[k].result))
        slots[unclear[k]] = std::move(seen[k]);
  }
}

std::vector<SlotResult> results_of(std::vector<MeasuredSlot> slots) {
  std::vector<SlotResult> results;
  results.reserve(slots.size());
  for (MeasuredSlot& slot : slots) results.push_back(std::move(slot.result));
  return results;
}

// Where the fixture's own marks say that it stands; nothing where it has none, or, with a note, where they do not tell.
std::optional<FixturePlacement> placed_by_marks(const Photo& photo, const Camera& camera, const Fixture& fixture,
                                                const CheckOptions& options, std::vector<std::string>& notes) {
  if (fixture.marks_mm.empty()) return std::nullopt;
  const auto found = place_fixture_by_marks(photo.luma, camera, fixture, options.lens_error_px);
  if (found) {
    notes = found->notes;
    return found->placement;
  }
  notes.push_back("The fixture's marks do not tell where it stands: " + found.reason() +
                  "; its slots' nominal places were searched.");
  return std::nullopt;
}

// Looks on with what `m` holds, which must outlive it.
SlotSight sight_of(const Measuring& m, int threads) {
  const auto search = [&m](const SlotTask& task, const SearchRange& range) {
    return search_slot(m.prepared.picture, m.view.camera, task.slot.blank, task.slot.seat, task.expected, range);
  };
  const auto measure = [&m](const SlotTask& task) {
    return measure_slot(m.view.photo, m.prepared.picture, m.view.camera, m.camera, task, m.measure, m.models).result;
  };
  return {m.prepared.tasks, search, measure, threads};
}

}  // namespace

void refuse_other_size(const Photo& photo, const Lens& lens) {
  if (photo.width_px() == lens.width_px && photo.height_px() == lens.height_px) return;
  // what messengers and mail programs make of photos, to a pixel of their rounding
  const double scale = static_cast<double>(photo.width_px()) / lens.width_px;
  const bool copy = std::abs(scale * lens.height_px - photo.height_px()) <= 1.0;
  throw input_error(photo.file,
                    "the photo is " + picture_size(photo.width_px(), photo.height_px()) + " px, the calibration " +
                        picture_size(lens.width_px, lens.height_px) + " px" +
                        (copy ? ": of the same shape, so probably a copy made " +
                                    std::string(scale < 1.0 ? "smaller" : "larger") + " on its way here"
                              : ""),
                    copy ? "give the file as the camera saved it; messengers and mail programs change photos"
                         : "take it with the same camera, resolution and orientation as the calibration's photos");
}

PhotoFindings check_photo(const Photo& photo, const Camera& camera, const Fixture& fixture,
                          const CheckOptions& options) {
  EdgeModelStore models;
  return check_photo(photo, camera, fixture, options, models);
}

PhotoFindings check_photo(const Photo& photo, const Camera& camera, const Fixture& fixture, const CheckOptions& options,
                          EdgeModelStore& models) {
  refuse_other_size(photo, camera.lens);
  const SlotParts parts(photo, camera, fixture);
  refuse(photo, parts.fault_at_once());
  PhotoFindings findings;
  const std::optional<FixturePlacement> marked = placed_by_marks(photo, camera, fixture, options, findings.notes);
  const WorkingView view = working_view(photo, camera, fixture);
  const PreparedPhoto prepared =
      prepare_photo(view.photo, view.camera, fixture, marked, options.range, options.threads, models);
  const MeasureOptions measure = measure_options(prepared, options.lens_error_px / view.shrink);
  const Measuring measuring{photo, view, camera, fixture, prepared, measure, models};
  const std::optional<EmptyView> empty = empty_view(measuring, options.empty, findings.notes);
  std::vector<MeasuredSlot> slots = measured_slots(measuring, prepared.tasks.size(), empty, options.threads);
  look_again(measuring, options, slots);
  findings.slots = results_of(std::move(slots));

  const bool told = look_around(sight_of(measuring, options.threads), fixture, findings);
  if (std::string scale = scale_of_load(fixture, findings.slots, camera.centre_mm().z()); !scale.empty())
    findings.notes.push_back(std::move(scale));
  judge_by_load(fixture, camera.centre_mm().head<2>(), findings);
  std::string instead = scouted_instead(photo, camera, fixture, options, findings, models);
  judge_whole(photo, parts, told || !instead.empty(), findings);
  if (!instead.empty()) findings.notes.push_back(std::move(instead));
  findings.placement = marked ? marked : placement_from_slots(fixture, findings.slots);
  if (marked) note_strays(fixture, *marked, findings);
  return findings;
}

}  // namespace jigtrue
