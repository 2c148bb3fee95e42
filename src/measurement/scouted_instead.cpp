#include "measurement/scouted_instead.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/measurement/scout_photo.hpp"

#include <algorithm>
#include <optional>

namespace jigtrue {
namespace {

// Alike as far as their outlines and heights go.
bool alike(const Slot& a, const Slot& b) {
  if (a.blank.shape.index() != b.blank.shape.index() || a.seat.kind.index() != b.seat.kind.index()) return false;
  return length_mm(a.blank.shape) == length_mm(b.blank.shape) &&
         largest_girth_mm(a.blank.shape) == largest_girth_mm(b.blank.shape);
}

std::string rounded(double value) { return fixed_text(value, 0); }

std::string place_of(const ScoutedSlot& slot) {
  return "X " + rounded(slot.slot.centre_mm.x()) + ", Y " + rounded(slot.slot.centre_mm.y()) + " mm";
}

std::string arrangement(const ScoutResult& scouted) {
  if (!scouted.grid) return "";
  const RegularGrid& grid = *scouted.grid;
  std::string text = ", " + std::to_string(grid.rows) + " x " + std::to_string(grid.columns) + " along " +
                     rounded(grid.axis_deg) + " degrees";
  if (grid.row_pitch) text += ", " + fixed_text(grid.row_pitch->mm, 1) + " mm from one to the next across";
  if (grid.column_pitch) text += ", " + fixed_text(grid.column_pitch->mm, 1) + " mm along";
  return text;
}

}  // namespace

std::string scouted_instead(const Photo& photo, const Camera& camera, const Fixture& fixture,
                            const CheckOptions& options, const CheckResult& result, EdgeModelStore& models) {
  const auto& slots = fixture.slots;
  if (std::any_of(result.slots.begin(), result.slots.end(),
                  [](const SlotResult& slot) { return slot.state == SlotState::found || slot.covered; }))
    return {};
  if (!std::all_of(slots.begin(), slots.end(), [&](const Slot& slot) { return alike(slot, slots.front()); })) return {};
  LikeFile like;
  like.fixture = fixture;
  like.fixture.slots.clear();
  like.kind = slots.front();
  ScoutOptions scouting;
  scouting.threads = options.threads;
  std::optional<ScoutResult> scouted;
  try {
    scouted = scout_photos({{photo, camera, options.lens_error_px}}, like, scouting, models);
  } catch (const InputError&) {
    return {};  // it sees no such blanks either
  }
  std::vector<const ScoutedSlot*> blanks;
  for (const ScoutedSlot& slot : scouted->slots)
    if (slot.blank) blanks.push_back(&slot);
  if (2 * blanks.size() < slots.size()) return {};
  return "The fixture file does not fit this photo as a whole: none of its " + std::to_string(slots.size()) +
         " slots shows its blank, but " + std::to_string(blanks.size()) + " such blank" +
         (blanks.size() == 1 ? " lies" : "s lie") + " elsewhere" + arrangement(*scouted) + ", from " +
         place_of(*blanks.front()) + " to " + place_of(*blanks.back()) +
         ". Give the jig's own file, or let scout write one: jigtrue scout, with this photo and --like this file.";
}

}  // namespace jigtrue
