#include "measurement/judge_by_row.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/median.hpp"
#include "jigtrue/detection/readings.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>
#include <string>
#include <variant>

#include "measurement/doubt.hpp"
#include "measurement/slot_row.hpp"

namespace jigtrue {
namespace {

constexpr double kSureSigmas = 4.0;  // of a slope: chance alone makes one once in 16,000 rows

std::vector<RowPlace> without(std::vector<RowPlace> row, std::size_t place) {
  row.erase(row.begin() + static_cast<std::ptrdiff_t>(place));
  return row;
}

// What the row says of where a blank lies across, beside its own edges: the mean of the two, by their variances. Only
// where its own say clearly less.
void settle_across(SlotResult& slot, const Vector2d& across, const Predicted& row, double own_sigma_mm) {
  constexpr double kClearlyLess = 1.5;  // times as unsure: else its own edges stay the better witness
  if (own_sigma_mm < kClearlyLess * row.sigma_mm) return;
  const double row_variance = row.sigma_mm * row.sigma_mm;
  const double own_variance = own_sigma_mm * own_sigma_mm;
  SlotNumbers& n = *slot.numbers;
  const Vector2d by = (row.mm - n.offset_mm.dot(across)) * own_variance / (own_variance + row_variance) * across;
  n.centre_mm += by;
  n.offset_mm += by;
  const double nominal = rad_from_deg(slot.nominal_axis_deg);
  n.across_mm = n.offset_mm.dot(Vector2d(-std::sin(nominal), std::cos(nominal)));
  const double share = std::sqrt(row_variance / (own_variance + row_variance));
  for (BudgetShare& part : n.budget) part.across_mm *= share;
  n.uncertainty.across_mm *= share;
}

// Whether lengths are scaled as the places are, as a height that is declared wrongly does it: a seat higher by dz under
// a camera at height h scales both by dz / h. A wrong distance of the slots leaves lengths alone.
std::optional<bool> lengths_follow(const Fixture& fixture, const std::vector<CommonSize>& sizes, double slope) {
  for (const CommonSize& group : sizes) {
    if (!group.length) continue;
    const double grown = group.length->mm / length_mm(fixture.slots[group.slots.front()].blank.shape) - 1.0;
    return std::abs(grown - slope) < std::abs(grown);
  }
  return std::nullopt;
}

// Offsets that grow along the row: the seat's height is declared wrongly, or the slots' distances are.
void judge_trend(const Fixture& fixture, const std::vector<CommonSize>& sizes, const std::vector<RowPlace>& row,
                 const std::optional<RowTrend>& trend, PhotoFindings& result) {
  constexpr double kWorthSaying_mm = 0.2;  // at the row's end
  constexpr double kMostByHeight = 0.02;   // 9 mm under a camera at 450: no seat is declared that wrongly
  if (!trend || std::abs(trend->slope) < kSureSigmas * trend->slope_sigma ||
      std::abs(trend->slope) * trend->reach_mm < kWorthSaying_mm)
    return;
  char text[120];
  std::snprintf(text, sizeof text, "Offsets across grow along the row, by %+.2f mm in 25 mm: ", 25.0 * trend->slope);
  if (std::abs(trend->slope) > kMostByHeight) {
    result.notes.push_back(std::string(text) + "the slots of the jig do not lie as far apart as the file says.");
  } else {
    const auto follow = lengths_follow(fixture, sizes, trend->slope);
    result.notes.push_back(std::string(text) + "the seat's height or the slots' distances are declared wrongly" +
                           (!follow   ? ""
                            : *follow ? ", and lengths point to the height"
                                      : ", and lengths point to the distances") +
                           ". Measure them and correct the file.");
  }
  // which of the two it is decides where the blanks lie
  const double sigma_mm = std::abs(trend->slope) * trend->reach_mm;
  for (const RowPlace& place : row) {
    SlotNumbers& numbers = *result.slots[place.slot].numbers;
    numbers.uncertainty.across_mm = std::hypot(numbers.uncertainty.across_mm, kCoverageFactor95 * sigma_mm);
    numbers.budget.push_back({cause::kHeightOrDistances, sigma_mm, 0.0, 0.0});
  }
}

// Blanks that are all longer alike may as well lie higher than declared: a seat higher by dz under a camera at height h
// puts them all further from its foot by dz / h of their distance, as it lengthens them. Where the row's own slope does
// not tell, either is as likely, and the places are known no better than that.
void judge_height(const CommonSize& group, const Fixture& fixture, const std::optional<RowTrend>& trend,
                  const Vector2d& camera_mm, PhotoFindings& result) {
  constexpr int kFewest = 3;  // blanks longer alike: two may be so by chance
  constexpr double kWorthSaying =
      0.003;  // of the length: less puts nothing within 100 mm of the camera's foot off by 0.3
  if (!group.length || group.length->blanks < kFewest) return;
  const Blank& blank = fixture.slots[group.slots.front()].blank;
  const double declared_mm = length_mm(blank.shape);
  const double longer_mm = group.length->mm - declared_mm;
  if (std::holds_alternative<TurnedBlank>(blank.shape) ||
      std::abs(longer_mm) < std::max(kEndForm_mm, kWorthSaying * declared_mm) ||
      !near_declared_length(blank, longer_mm))
    return;
  const double grown = longer_mm / declared_mm;
  const bool only_longer = trend && std::abs(trend->slope - grown) > kSureSigmas * trend->slope_sigma &&
                           std::abs(trend->slope) < std::abs(trend->slope - grown);
  result.notes.push_back(
      std::to_string(group.length->blanks) + " blanks measure " + millimetres_text(group.length->mm, 1) +
      " in length, the file says " + millimetres_text(declared_mm, 1) + ": " +
      (only_longer ? "if they are, correct it"
                   : std::string("if they are not, they lie ") + (longer_mm > 0.0 ? "higher" : "lower") +
                         " than it says. Measure one, and the seat's height") +
      ".");
  if (only_longer) return;
  for (const std::size_t i : group.slots) {
    SlotResult& slot = result.slots[i];
    if (slot.state != SlotState::found || !slot.numbers) continue;
    SlotNumbers& n = *slot.numbers;
    const double axis = rad_from_deg(n.axis_deg);
    const Vector2d along(std::cos(axis), std::sin(axis));
    const Vector2d away_mm = std::abs(grown) * (n.centre_mm - camera_mm);
    const Vector2d across_axis(-along.y(), along.x());
    // what the seat's own tolerance allows is stated already
    const auto stated = std::find_if(n.budget.begin(), n.budget.end(),
                                     [](const BudgetShare& share) { return share.name == cause::kSeatHeight; });
    const BudgetShare known = stated != n.budget.end() ? *stated : BudgetShare{};
    const auto beyond = [](double moved_mm, double known_mm) {
      return std::sqrt(
          std::max(moved_mm * moved_mm - kCoverageFactor95 * kCoverageFactor95 * known_mm * known_mm, 0.0));
    };
    const double across = beyond(std::abs(away_mm.dot(across_axis)), known.across_mm);
    n.uncertainty.across_mm = std::hypot(n.uncertainty.across_mm, across);
    const double further = beyond(std::abs(away_mm.dot(along)), known.along_mm);
    if (n.uncertainty.along_mm) n.uncertainty.along_mm = std::hypot(*n.uncertainty.along_mm, further);
    n.budget.push_back({cause::kLengthOrHeight, across / kCoverageFactor95, further / kCoverageFactor95, 0.0});
  }
}

}  // namespace

void judge_places(const Fixture& fixture, PhotoFindings& result) {
  // a groove holds its blank: what its wear and dirt leave; common practice, no source
  constexpr double kHeld_mm = 0.6;
  constexpr double kGrooves_mm = 0.05;  // how truly a jig's grooves are cut: common practice, no source
  const std::vector<RowPlace> row = row_places(fixture, result.slots);
  if (row.size() < 4) return;
  const auto [slope, usual] = line_of(row);
  std::vector<double> off;
  std::vector<double> sigmas;
  for (const RowPlace& place : row) {
    off.push_back(std::abs(place.across_mm - slope * place.at_mm - usual));
    sigmas.push_back(place.sigma_mm);
  }
  // what all of them err by alike is theirs, too
  const double alike_mm = median(sigmas).value_or(0.0);
  const auto beside = [&](std::size_t k) { return off[k] > kHeld_mm + 2.0 * row[k].sigma_mm; };
  std::size_t odd = 0;
  for (std::size_t k = 0; k < row.size(); ++k) odd += beside(k) ? 1 : 0;
  const bool grooves_scatter = 4 * odd > row.size();  // a jig cut by hand: then none of them is the odd one
  const Vector2d along = along_of(fixture.slots.front());
  for (std::size_t k = 0; k < row.size(); ++k) {
    SlotResult& slot = result.slots[row[k].slot];
    if (!std::holds_alternative<VeeSeat>(fixture.slots[row[k].slot].seat.kind)) continue;
    if (beside(k) && !grooves_scatter)
      doubt(slot,
            "it seems to lie " + millimetres_text(off[k], 1) + " beside where the other slots say that its groove is",
            "see whether it lies in its groove, and look at its edges");
    if (beside(k) || row.size() <= 4 || off[k] >= 2.0 * row[k].sigma_mm) continue;
    if (auto others = predicted_by(without(row, k), row[k].at_mm, kGrooves_mm)) {
      others->sigma_mm = std::hypot(others->sigma_mm, alike_mm);
      settle_across(slot, {-along.y(), along.x()}, *others, row[k].sigma_mm);
    }
  }
}

void judge_heights(const Fixture& fixture, const std::vector<CommonSize>& sizes, const Vector2d& camera_mm,
                   PhotoFindings& result) {
  const std::vector<RowPlace> row = row_places(fixture, result.slots);
  const auto trend = trend_of(row);
  for (const CommonSize& group : sizes) judge_height(group, fixture, trend, camera_mm, result);
  judge_trend(fixture, sizes, row, trend, result);
}

}  // namespace jigtrue
