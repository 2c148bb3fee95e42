#include "measurement/scout_grid.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <variant>

#include "measurement/bed_slots.hpp"

namespace jigtrue {
namespace {

std::vector<Slot> slots_of(const std::vector<ScoutedPlace>& blanks) {
  std::vector<Slot> slots;
  slots.reserve(blanks.size());
  for (const ScoutedPlace& blank : blanks) slots.push_back(blank.slot);
  return slots;
}

Slot grid_slot(const Slot& kind, const RegularGrid& grid, const GridIndex& at) {
  Slot slot = kind;
  slot.centre_mm = grid.place_mm(at);
  slot.axis_deg = grid.axis_deg;
  return slot;
}

// Lies over one of the grid's slots.
bool meets_grid(const Slot& slot, const RegularGrid& grid) {
  for (int row = 0; row < grid.rows; ++row)
    for (int column = 0; column < grid.columns; ++column)
      if (shared_area(grid_slot(slot, grid, {row, column}), slot, 0.0) > 0.0) return true;
  return false;
}

// The grid's places that hold no blank: within it, and one step beyond it where the view from above shows an outline.
std::vector<GridIndex> open_places(const RegularGrid& grid, const Slot& kind,
                                   const std::vector<ProposedPlace>& proposed, bool beyond) {
  constexpr double kNear_mm = 6.0;  // of a grid's place: what blanks lie off in their slots
  std::vector<GridIndex> open;
  const int more_rows = beyond && grid.row_pitch ? 1 : 0;
  const int more_columns = beyond && grid.column_pitch ? 1 : 0;
  for (int row = -more_rows; row < grid.rows + more_rows; ++row) {
    for (int column = -more_columns; column < grid.columns + more_columns; ++column) {
      const GridIndex at{row, column};
      if (grid.holds(at)) continue;
      const bool within = row >= 0 && row < grid.rows && column >= 0 && column < grid.columns;
      const Slot slot = grid_slot(kind, grid, at);
      const bool proposed_there = std::any_of(proposed.begin(), proposed.end(), [&](const ProposedPlace& place) {
        const double turn = std::remainder(deg_from_rad(place.place.heading_rad) - slot.axis_deg, 180.0);
        return (place.place.centre_mm - slot.centre_mm).norm() < kNear_mm && (is_disc(kind) || std::abs(turn) < 4.0);
      });
      if (within || proposed_there) open.push_back(at);
    }
  }
  return open;
}

}  // namespace

std::optional<RegularGrid> grid_of(BlankSearch& search) {
  std::vector<Slot> slots = slots_of(search.blanks());
  if (auto grid = regular_grid(slots)) return grid;
  constexpr std::size_t kFewest = 4;  // that make a grid with one left out
  if (slots.size() < kFewest) return std::nullopt;
  std::optional<RegularGrid> best;
  std::size_t disturbs = 0;
  for (std::size_t left_out = 0; left_out < slots.size(); ++left_out) {
    std::vector<Slot> rest = slots;
    rest.erase(rest.begin() + static_cast<std::ptrdiff_t>(left_out));
    auto grid = regular_grid(rest, slots.size());
    if (!grid || !meets_grid(slots[left_out], *grid)) continue;
    if (best && best->scatter_across_mm + best->scatter_along_mm <= grid->scatter_across_mm + grid->scatter_along_mm)
      continue;
    best = std::move(grid);
    disturbs = left_out;
  }
  if (best) search.leave_out(disturbs);
  return best;
}

std::string gap_note(const SlotResult& seen) {
  if (seen.state == SlotState::empty) return "empty in the photo: the row has a gap here";
  return "in the photo: " +
         (seen.reasons.empty() ? std::string("not a blank that lies as the others do") : seen.reasons.front());
}

std::vector<ScoutedSlot> slots_in_grid(const Scout& scout, BlankSearch& search, std::optional<RegularGrid>& grid,
                                       const std::vector<ProposedPlace>& proposed) {
  std::vector<ScoutedSlot> slots;
  // blanks found beyond the grid's ends make it longer, and the place of every slot surer
  for (bool grown = grid.has_value(); grown;) {
    const std::vector<GridIndex> open = open_places(*grid, scout.like.kind, proposed, true);
    std::vector<Slot> places;
    places.reserve(open.size());
    for (const GridIndex& at : open) places.push_back(grid_slot(scout.like.kind, *grid, at));
    if (places.empty() || places.size() > search.blanks().size() + 2) break;
    std::vector<SlotResult> seen;
    const auto there = search.look_in(places, *grid, seen);
    grown = std::any_of(there.begin(), there.end(), [](const auto& blank) { return blank.has_value(); });
    if (grown) {
      auto more = regular_grid(slots_of(search.blanks()));
      if (!more) break;
      grid = std::move(more);
      continue;
    }
    for (std::size_t i = 0; i < open.size(); ++i) {
      const bool within =
          open[i].row >= 0 && open[i].row < grid->rows && open[i].column >= 0 && open[i].column < grid->columns;
      if (within) slots.push_back({places[i], std::nullopt, gap_note(seen[i]), {}});
    }
  }
  for (std::size_t i = 0; i < search.blanks().size(); ++i) {
    const ScoutedPlace& blank = search.blanks()[i];
    Slot slot = blank.slot;
    if (grid && i < grid->index.size() && grid->index[i]) {
      slot = grid_slot(scout.like.kind, *grid, *grid->index[i]);
      // which end is which is the blank's to say
      if (std::cos(rad_from_deg(slot.axis_deg - blank.slot.axis_deg)) < 0.0 &&
          std::holds_alternative<TurnedBlank>(slot.blank.shape))
        slot.axis_deg = std::remainder(slot.axis_deg + 180.0, 360.0);
    }
    slots.push_back({slot, blank, "", {}});
  }
  return slots;
}

void allow_for_measuring(const std::vector<ScoutedPlace>& blanks, RegularGrid& grid) {
  std::vector<double> across;
  std::vector<double> along;
  for (const ScoutedPlace& blank : blanks) {
    const ExpandedUncertainty& u = blank.measured.numbers->uncertainty;
    across.push_back(u.across_mm);
    if (u.along_mm) along.push_back(*u.along_mm);
  }
  const double u_across = median(across).value_or(0.0);
  const double u_along = median(along).value_or(u_across);
  const auto widen = [](std::optional<Pitch>& pitch, double u_mm, int steps) {
    if (pitch) pitch->u_mm = std::hypot(pitch->u_mm, std::sqrt(2.0) * u_mm / std::max(steps - 1, 1));
  };
  widen(grid.row_pitch, u_across, grid.rows);
  widen(grid.column_pitch, u_along, grid.columns);
  grid.u_across_mm = std::hypot(grid.u_across_mm, u_across);
  grid.u_along_mm = std::hypot(grid.u_along_mm, u_along);
}

}  // namespace jigtrue
