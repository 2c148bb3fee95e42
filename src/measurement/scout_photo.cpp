#include "jigtrue/measurement/scout_photo.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/measurement/reading_order.hpp"
#include "jigtrue/measurement/sketch.hpp"

#include <algorithm>
#include <stdexcept>
#include <string>
#include <utility>

#include "measurement/blank_search.hpp"
#include "measurement/scout_grid.hpp"
#include "measurement/scout_refusals.hpp"

namespace jigtrue {
namespace {

// Other blanks beside these lie as they do.
std::vector<double> headings_of(const std::vector<ScoutedPlace>& blanks) {
  std::vector<double> headings;
  headings.reserve(blanks.size());
  for (const ScoutedPlace& blank : blanks) headings.push_back(rad_from_deg(blank.slot.axis_deg));
  return headings;
}

void name_in_reading_order(std::vector<ScoutedSlot>& named) {
  std::vector<Slot> slots;
  slots.reserve(named.size());
  for (const ScoutedSlot& each : named) slots.push_back(each.slot);
  std::vector<ScoutedSlot> ordered;
  for (const std::size_t i : reading_order(slots)) {
    ordered.push_back(named[i]);
    ordered.back().slot.id = std::to_string(ordered.size());
  }
  named = std::move(ordered);
}

// Blanks that the photo of the empty jig shows as well are none: their slots are gaps.
void judge_by_empty_photo(const Scout& scout, ScoutResult& result) {
  if (scout.options.empty == nullptr) return;
  Fixture fixture = scout.like.fixture;
  for (const ScoutedSlot& slot : result.slots) fixture.slots.push_back(slot.slot);
  CheckOptions check;
  check.empty = scout.options.empty;
  check.lens_error_px = scout.lens_error_px;
  check.threads = scout.options.threads;
  const PhotoFindings checked = check_photo(scout.photo, scout.camera, fixture, check, scout.models);
  result.notes = checked.notes;
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    ScoutedSlot& slot = result.slots[i];
    if (!slot.blank || checked.slots[i].state != SlotState::empty) continue;
    result.others.push_back({slot.slot, checked.slots[i], slot.blank->support});
    slot.blank.reset();
    slot.note = gap_note(checked.slots[i]);
  }
  if (!result.grid) {
    std::erase_if(result.slots, [](const ScoutedSlot& slot) { return !slot.blank; });
    name_in_reading_order(result.slots);
  }
  if (std::none_of(result.slots.begin(), result.slots.end(), [](const ScoutedSlot& slot) { return slot.blank; }))
    throw input_error(scout.photo.file, "it shows no blank that the photo of the empty jig does not show as well",
                      "load the jig, or give another --empty");
}

// What the declared blank was proposed to lie at; the search holds what came of it.
std::vector<ProposedPlace> search_bed(const Scout& scout, BlankSearch& search) {
  refuse_other_size(scout.photo, scout.camera.lens);
  const Slot& kind = scout.like.kind;
  const BedSearch bed(scout.photo, scout.camera, kind.blank, kind.seat, scout.options.threads);
  std::vector<ProposedPlace> proposed = bed.declared();
  search.judge(proposed);
  if (search.blanks().empty()) refuse_none(scout, search, bed.other_sizes({}));
  search.take_in_line();
  search.judge_across(proposed);
  refuse_overlaps(scout, search);
  constexpr double kAsPlain = 0.75;  // of the support of what was found
  search.judge_other_sizes(bed.other_sizes(headings_of(search.blanks())), kAsPlain * usual_support(search.blanks()), 2);
  refuse_cut(scout, search);
  refuse_two_kinds(scout, search);
  return proposed;
}

}  // namespace

bool ScoutResult::has_gaps() const {
  return std::any_of(slots.begin(), slots.end(), [](const ScoutedSlot& slot) { return !slot.blank; });
}

ScoutResult scout_photos(const std::vector<ScoutedLoad>& loads, const LikeFile& like, const ScoutOptions& options,
                         EdgeModelStore& models) {
  if (loads.empty()) throw std::logic_error("scout_photos: no photo");
  std::vector<ScoutedPlace> further;
  for (std::size_t i = 1; i < loads.size(); ++i) {
    const Scout scout{loads[i].photo, loads[i].camera, loads[i].lens_error_px, like, options, models};
    BlankSearch search(scout);
    (void)search_bed(scout, search);
    further.insert(further.end(), search.blanks().begin(), search.blanks().end());
  }
  const Scout scout{loads[0].photo, loads[0].camera, loads[0].lens_error_px, like, options, models};
  BlankSearch search(scout);
  const std::vector<ProposedPlace> proposed = search_bed(scout, search);
  search.add_load(further);

  ScoutResult result;
  result.grid = grid_of(search);
  refuse_overlaps(scout, search);
  result.slots = slots_in_grid(scout, search, result.grid, proposed);
  refuse_cut_slots(scout, result.slots);
  name_in_reading_order(result.slots);
  for (ScoutedSlot& slot : result.slots)
    slot.sketch = sketch_slot(scout.camera, slot.slot, nominal_place(slot.slot), std::nullopt);
  if (result.grid) allow_for_measuring(search.blanks(), *result.grid);
  result.others = search.others();
  judge_by_empty_photo(scout, result);
  std::stable_sort(result.others.begin(), result.others.end(),
                   [](const ScoutedPlace& a, const ScoutedPlace& b) { return a.support > b.support; });
  return result;
}

ScoutResult scout_photo(const Photo& photo, const Camera& camera, const LikeFile& like, const ScoutOptions& options,
                        EdgeModelStore& models) {
  return scout_photos({{photo, camera, 0.0}}, like, options, models);
}

}  // namespace jigtrue
