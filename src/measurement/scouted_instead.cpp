#include "measurement/scouted_instead.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/measurement/reading_order.hpp"
#include "jigtrue/measurement/scout_photo.hpp"

#include <algorithm>
#include <cstddef>
#include <optional>
#include <vector>

#include "measurement/blank_search.hpp"
#include "measurement/scout_grid.hpp"

namespace jigtrue {
namespace {

// Alike as far as their outlines and heights go.
bool alike(const Slot& a, const Slot& b) {
  if (a.blank.shape.index() != b.blank.shape.index() || a.seat.kind.index() != b.seat.kind.index()) return false;
  return length_mm(a.blank.shape) == length_mm(b.blank.shape) &&
         largest_girth_mm(a.blank.shape) == largest_girth_mm(b.blank.shape);
}

std::string rounded(double value) { return fixed_text(value, 0); }

std::string place_of(const Slot& slot) {
  return "X " + rounded(slot.centre_mm.x()) + ", Y " + rounded(slot.centre_mm.y()) + " mm";
}

std::string arrangement(const std::optional<RegularGrid>& grid) {
  if (!grid) return "";
  std::string text = ", " + std::to_string(grid->rows) + " x " + std::to_string(grid->columns) + " along " +
                     rounded(grid->axis_deg) + " degrees";
  if (grid->row_pitch) text += ", " + fixed_text(grid->row_pitch->mm, 1) + " mm from one to the next across";
  if (grid->column_pitch) text += ", " + fixed_text(grid->column_pitch->mm, 1) + " mm along";
  return text;
}

}  // namespace

std::string scouted_instead(const Photo& photo, const Camera& camera, const Fixture& fixture,
                            const CheckOptions& options, const PhotoFindings& findings, EdgeModelStore& models) {
  const auto& slots = fixture.slots;
  if (std::any_of(findings.slots.begin(), findings.slots.end(),
                  [](const SlotResult& slot) { return slot.state == SlotState::found || slot.covered; }))
    return {};
  if (std::all_of(findings.slots.begin(), findings.slots.end(),
                  [](const SlotResult& slot) { return slot.as_empty_photo; }))
    return {};
  if (!std::all_of(slots.begin(), slots.end(), [&](const Slot& slot) { return alike(slot, slots.front()); })) return {};
  LikeFile like;
  like.fixture = fixture;
  like.fixture.slots.clear();
  like.kind = slots.front();
  ScoutOptions scouting;
  scouting.threads = options.threads;
  const Scout scout{photo, camera, options.lens_error_px, like, scouting, models};
  BlankSearch search(scout);
  const std::vector<ProposedPlace> places =
      BedSearch(photo, camera, like.kind.blank, like.kind.seat, options.threads).declared();
  // Where a jig of such blanks lies, these look most like them. A bed without any has more places to judge than any
  // other.
  constexpr std::size_t kMostPromising = 4;
  search.judge({places.begin(), places.begin() + static_cast<std::ptrdiff_t>(std::min(kMostPromising, places.size()))});
  if (search.blanks().empty()) return {};
  search.judge(places);
  if (2 * search.blanks().size() < slots.size()) return {};
  const std::optional<RegularGrid> grid = grid_of(search);
  std::vector<Slot> seen;
  seen.reserve(search.blanks().size());
  for (const ScoutedPlace& blank : search.blanks()) seen.push_back(blank.slot);
  if (seen.empty()) return {};
  const std::vector<std::size_t> order = reading_order(seen);
  return "The fixture file does not fit this photo as a whole: none of its " + std::to_string(slots.size()) +
         " slots shows its blank, but " + std::to_string(seen.size()) + " such blank" +
         (seen.size() == 1 ? " lies" : "s lie") + " elsewhere" + arrangement(grid) + ", from " +
         place_of(seen[order.front()]) + " to " + place_of(seen[order.back()]) +
         ". Give the jig's own file, or let scout write one: jigtrue scout, with this photo and --like this file.";
}

}  // namespace jigtrue
