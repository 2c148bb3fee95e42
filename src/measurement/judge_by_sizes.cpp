#include "measurement/judge_by_sizes.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/detection/readings.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <variant>

#include "measurement/doubt.hpp"

namespace jigtrue {
namespace {

double total_along(const SlotNumbers& numbers) {
  double squares = 0.0;
  for (const BudgetShare& share : numbers.budget) squares += share.along_mm * share.along_mm;
  return kCoverageFactor95 * std::sqrt(squares);
}

void move_along(SlotResult& slot, double by_mm) {
  SlotNumbers& n = *slot.numbers;
  const double axis = rad_from_deg(n.axis_deg);
  const Vector2d by = by_mm * Vector2d(std::cos(axis), std::sin(axis));
  n.centre_mm += by;
  n.offset_mm += by;
  const double nominal = rad_from_deg(slot.nominal_axis_deg);
  const Vector2d along(std::cos(nominal), std::sin(nominal));
  n.across_mm = n.offset_mm.dot(Vector2d(-along.y(), along.x()));
  n.along_mm = n.offset_mm.dot(along);
}

// An end that was not seen lies where the load's own length puts it.
void settle_end(SlotResult& slot, const CommonMean& length) {
  MeasuredLength& own = *slot.length;
  if (own.start_seen == own.end_seen) return;
  move_along(slot, (own.end_seen ? -0.5 : 0.5) * (length.mm - own.taken_mm));
  own.taken_mm = length.mm;
  for (BudgetShare& share : slot.numbers->budget)
    if (share.name == cause::kEndUnseen)
      share = {"length of this load", 0.0, 0.5 * std::hypot(length.scatter_mm, length.u_mm), 0.0};
  slot.numbers->uncertainty.along_mm = total_along(*slot.numbers);
}

// Another edge near one of the ends was weighed, which would make another length: where both ends agree with the load's
// own length, that is settled.
void settle_between_ends(SlotResult& slot, const CommonMean& length) {
  constexpr int kSure = 3;  // blanks that agree
  const double limit_mm = std::max(0.5 * kSameBlank_mm, 2.0 * length.scatter_mm);
  if (length.blanks < kSure || std::abs(*slot.length->own_mm - length.mm) > limit_mm) return;
  const double settled_mm = 0.5 * std::hypot(length.scatter_mm, slot.length->own_sigma_mm);
  for (BudgetShare& share : slot.numbers->budget)
    if (share.name == cause::kOneEdgeOrAnother) share.along_mm = std::min(share.along_mm, settled_mm);
  slot.numbers->uncertainty.along_mm = total_along(*slot.numbers);
}

void judge_own_length(SlotResult& slot, const CommonMean& common, double declared_mm, bool as_declared) {
  if (slot.state != SlotState::found || !slot.numbers || !slot.length) return;
  if (slot.length->own_mm) {
    const double limit_mm = std::max(kSameBlank_mm, 3.0 * std::hypot(slot.length->own_sigma_mm, common.scatter_mm));
    if (std::abs(*slot.length->own_mm - common.mm) > limit_mm + kEndForm_mm)
      doubt(slot,
            "its length measures " + millimetres_text(*slot.length->own_mm, 1) + ", that of the load's other blanks " +
                millimetres_text(common.mm, 1),
            "look at both its ends");
    else
      settle_between_ends(slot, common);
  } else if (!as_declared) {
    doubt(slot,
          "one of its ends is not seen, and the declared length, " + millimetres_text(declared_mm, 1) +
              ", is not that of this load, " + millimetres_text(common.mm, 1),
          "correct the length in the file");
  } else {
    settle_end(slot, common);
  }
}

// Both its ends are seen, and not as far apart as declared: one of them may be a joint, a ring, a pocket's wall.
void doubt_other_length(SlotResult& slot, const Blank& blank) {
  if (slot.state != SlotState::found || !slot.length || !slot.length->own_mm) return;
  const double declared = length_mm(blank.shape);
  const double limit_mm = blank.length_tolerance_mm + kEndForm_mm + slot.length->own_sigma_mm;
  if (std::abs(*slot.length->own_mm - declared) > limit_mm)
    doubt(slot,
          "what look like its ends lie " + millimetres_text(*slot.length->own_mm, 1) + " apart, declared " +
              millimetres_text(declared, 1),
          "look at both its ends");
}

void judge_lengths(const CommonSize& group, const Fixture& fixture, PhotoFindings& result) {
  const Blank& blank = fixture.slots[group.slots.front()].blank;
  // along a slim tip an end may slide without its profile's edges noticing: a turned blank's own length says too little
  if (std::holds_alternative<TurnedBlank>(blank.shape)) return;
  const double declared = length_mm(blank.shape);
  if (group.length) {
    const bool as_declared = near_declared_length(blank, group.length->mm - declared);
    if (!as_declared)
      result.notes.push_back(std::to_string(group.length->blanks) + " blanks measure " +
                             millimetres_text(group.length->mm, 1) + " in length; the file says " +
                             millimetres_text(declared, 1) +
                             ". Correct the file, or load the blanks that it asks for.");
    for (const std::size_t i : group.slots) judge_own_length(result.slots[i], *group.length, declared, as_declared);
  }
  for (const std::size_t i : group.slots) doubt_other_length(result.slots[i], blank);
}

void judge_diameters(const CommonSize& group, const Fixture& fixture, PhotoFindings& result) {
  if (!group.diameter) return;
  // blanks are sold in steps of half a millimetre or more: common practice, no source
  constexpr double kAnotherSize_mm = 0.5;
  constexpr double kAnotherSize = 0.01;  // of a large one, whose rim is rounded
  const CommonMean& common = *group.diameter;
  const double declared = largest_girth_mm(fixture.slots[group.slots.front()].blank.shape);
  const bool as_declared = std::abs(common.mm - declared) <= std::max(kAnotherSize_mm, kAnotherSize * declared);
  if (!as_declared)
    result.notes.push_back(std::to_string(common.blanks) + " blanks measure " + millimetres_text(common.mm, 1) +
                           " in diameter; the file says " + millimetres_text(declared, 1) +
                           ". Measure one with callipers and correct the file.");
  for (const std::size_t i : group.slots) {
    SlotResult& slot = result.slots[i];
    if (slot.state != SlotState::found || !slot.numbers || !slot.numbers->diameter_mm) continue;
    if (!as_declared) {
      doubt(slot,
            "this load's blanks measure " + millimetres_text(common.mm, 1) + " in diameter, declared " +
                millimetres_text(declared, 1),
            "measure one with callipers and correct the file");
      continue;
    }
    const double sigma = slot.numbers->uncertainty.diameter_mm.value_or(0.0) / kCoverageFactor95;
    const double limit_mm = std::max(kAnotherSize_mm, 3.0 * std::hypot(sigma, common.scatter_mm));
    if (std::abs(*slot.numbers->diameter_mm - common.mm) > limit_mm)
      doubt(slot,
            "its diameter measures " + millimetres_text(*slot.numbers->diameter_mm, 2) +
                ", that of the load's other blanks " + millimetres_text(common.mm, 2),
            "measure the blank with callipers");
  }
}

// As many blanks or more measure another size as measure the declared one: then these are hardly of that, in one load.
void doubt_few_among_others(const CommonSize& group, PhotoFindings& result) {
  constexpr std::ptrdiff_t kFewest = 2;  // of another size: one alone may be a stray blank
  const auto count = [&](SlotState state) {
    return std::count_if(group.slots.begin(), group.slots.end(),
                         [&](std::size_t i) { return result.slots[i].state == state && result.slots[i].numbers; });
  };
  const std::ptrdiff_t others = count(SlotState::mismatch);
  if (others < kFewest || others < count(SlotState::found)) return;
  for (const std::size_t i : group.slots)
    if (result.slots[i].state == SlotState::found)
      doubt(result.slots[i], std::to_string(others) + " blanks of this load are not what the file asks for",
            "see whether this one is, and correct the file or load the blanks that it asks for");
}

}  // namespace

void judge_by_sizes(const CommonSize& group, const Fixture& fixture, PhotoFindings& result) {
  judge_lengths(group, fixture, result);
  judge_diameters(group, fixture, result);
  doubt_few_among_others(group, result);
}

}  // namespace jigtrue
