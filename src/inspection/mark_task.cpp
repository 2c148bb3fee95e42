#include "inspection/mark_task.hpp"

#include "jigtrue/base/coverage_factor.hpp"

#include <algorithm>
#include <cmath>

#include "inspection/taped_sheet.hpp"

namespace jigtrue {
namespace {

// The girth that the outline's fit rests on: the one seen, held by the declared one's tolerance.
void take_girth(const Slot& slot, const SlotNumbers& numbers, MarkTask& task) {
  const auto declared = largest_diameter_mm(slot.blank.shape);
  const double prior = slot.blank.diameter_tolerance_mm / std::sqrt(3.0);
  task.girth_sigma_mm = prior;
  if (!declared || is_flat(slot.blank.shape) || !numbers.diameter_mm) return;
  const double own = numbers.uncertainty.diameter_mm.value_or(1.0) / kCoverageFactor95;
  const double share = prior * prior / (prior * prior + own * own);
  task.surface.place.girth_mm = share * (*numbers.diameter_mm - *declared);
  task.girth_sigma_mm = std::sqrt(share) * own;
}

double height_of(const BlankShape& shape) {
  if (const auto* plate = std::get_if<PlateBlank>(&shape)) return plate->thickness_mm;
  if (const auto* disc = std::get_if<DiscBlank>(&shape)) return disc->thickness_mm;
  return largest_girth_mm(shape);
}

// An empty slot's floor, as far as the blank would cover it: where a beam lands that finds no blank. A groove is taken
// for level a third of its blank's girth above its bottom: a mark in it looks bent, and is no less a mark.
void take_floor(const Slot& slot, MarkTask& task) {
  constexpr double kThin_mm = 0.01;  // no floor lower than the crown at all
  const BlankShape& shape = slot.blank.shape;
  double floor_mm = 0.0;
  if (const auto* vee = std::get_if<VeeSeat>(&slot.seat.kind))
    floor_mm = vee->bottom_mm + height_of(shape) / 3.0;
  else if (const auto* floor = std::get_if<FloorSeat>(&slot.seat.kind))
    floor_mm = floor->height_mm;
  else
    floor_mm = std::get<AxisSeat>(slot.seat.kind).height_mm - height_of(shape) * (is_flat(shape) ? 1.0 : 0.5);
  task.surface.blank.shape = PlateBlank{length_mm(shape), largest_girth_mm(shape), kThin_mm, 0.0};
  task.surface.seat.kind = FloorSeat{floor_mm - kThin_mm};
}

// Paper tape is 0.08 to 0.18 mm thick (common practice, no source). It hides the blank's own edges: a blank that is not
// to be told under it lies where the layout had it.
void take_tape(MarkTask& task) {
  task.surface.cover_mm = 0.13;
  task.cover_sigma_mm = 0.05 / std::sqrt(3.0);
}

bool shows_mark(const MarkTask& task) {
  if (!task.match || task.match->null_scores.empty()) return false;
  const std::vector<double>& nulls = task.match->null_scores;
  return std::abs(task.match->peak.score) > 1.5 * *std::max_element(nulls.begin(), nulls.end());
}

}  // namespace

MarkTask task_for(const Slot& slot, const SlotResult& blank, const LaidLoad& laid) {
  MarkTask task;
  task.slot = &slot;
  task.blank = &blank;
  for (const LaidDesign& placed : laid.placed)
    if (placed.slot_id == slot.id) task.placed = &placed;
  task.passes = laid.art.of(slot.id);
  task.surface.blank = slot.blank;
  task.surface.seat = slot.seat;
  if (laid.machine) task.surface.head_mm = laid.machine->scanning_head_mm;
  const double along_mm = slot.design ? slot.design->along_mm : 0.0;
  task.measured = blank.state == SlotState::found && blank.numbers.has_value();
  if (task.measured) {
    task.frame = {blank.numbers->centre_mm, rad_from_deg(blank.numbers->axis_deg)};
  } else if (task.placed != nullptr) {
    task.frame = {task.placed->centre_mm, rad_from_deg(task.placed->axis_deg)};
  } else {
    task.frame = {blank.nominal_centre_mm, rad_from_deg(blank.nominal_axis_deg)};
  }
  task.surface.place.heading_rad = task.frame.heading_rad;
  task.surface.place.centre_mm = task.frame.bed({-along_mm, 0.0});
  if (task.measured) take_girth(slot, *blank.numbers, task);
  constexpr double kUnsure_mm = 1.2;  // how far a blank that was not measured may lie beside where it is taken to be
  constexpr double kTaped_mm = 0.5;   // likewise where only tape was laid over it since
  if (!task.measured) task.surface.margin_mm = laid.proof ? kTaped_mm : kUnsure_mm;
  task.surface.focus_mm = design_height_mm(slot.blank, slot.seat, task.surface.place, along_mm);
  task.proof = laid.proof;
  if (laid.proof)
    take_tape(task);
  else if (blank.state == SlotState::empty)
    take_floor(slot, task);
  return task;
}

void match_task(const Photo& photo, const Camera& camera, const std::optional<MarkBlur>& blur, MarkTask& task) {
  if (task.passes == nullptr) return;
  const auto scale = px_per_mm_at(camera, task.surface, task.frame);
  if (!scale) return;
  const double pitch = std::clamp(0.7 / scale->minCoeff(), 0.05, 0.35);
  const InkRaster ink = ink_raster(*task.passes, pitch / kInkPerPitch);
  MarkSearch& search = task.search;
  search = {};
  search.blur = blur;
  if (task.placed != nullptr) {
    const Vector2d placed = task.frame.uv(task.placed->centre_mm);
    // a blank that was moved since has taken its mark along: it then lies where the blank is, not where it was put
    if (placed.norm() < 15.0) {
      search.expected_mm = placed / 2.0;
      search.reach_mm += placed.cwiseAbs() / 2.0;
    }
  }
  const Vector2d half = ink.ink.low.cwiseAbs().cwiseMax(ink.ink.high.cwiseAbs());
  constexpr double kBeside_mm = 30.0;  // what lies farther beside the mark is not looked at
  InkBox box;
  box.hold(search.expected_mm - half - search.reach_mm - Vector2d(kBeside_mm, kBeside_mm));
  box.hold(search.expected_mm + half + search.reach_mm + Vector2d(kBeside_mm, kBeside_mm));
  // no farther than the blank reaches
  const double along_mm = task.slot->design ? task.slot->design->along_mm : 0.0;
  const double length = length_mm(task.slot->blank.shape) / 2.0 + 1.0;
  const double girth = largest_girth_mm(task.slot->blank.shape) / 2.0 + 1.0;
  box.low = box.low.cwiseMax(Vector2d(-length - along_mm, -girth));
  box.high = box.high.cwiseMin(Vector2d(length - along_mm, girth));
  if (box.empty()) return;
  task.unrolled = unroll(photo, camera, task.surface, task.frame, box, pitch);
  if (task.proof) task.unrolled = within_tape(task.unrolled, half);
  task.match = match_mark(task.unrolled, ink, search);
}

std::optional<MarkBlur> common_blur(const std::vector<MarkTask>& tasks) {
  double weights = 0.0;
  double squares = 0.0;
  double sum = 0.0;
  double spread = 0.0;
  for (const MarkTask& task : tasks) {
    if (!shows_mark(task)) continue;
    const double weight = std::pow(task.match->peak.score, 2);  // what a mark tells of its blur
    const double value = std::log(task.match->blur_px);
    weights += weight;
    squares += weight * weight;
    sum += weight * value;
    spread += weight * value * value;
  }
  if (weights <= 0.0) return std::nullopt;
  const double mean = sum / weights;
  const double marks = weights * weights / squares;  // as many of equal weight
  constexpr double kFewest = 1.5;                    // marks of equal weight: one alone tells no common blur
  if (marks < kFewest) return std::nullopt;
  return MarkBlur{std::exp(mean), std::sqrt(std::max(0.0, spread / weights - mean * mean) / (marks - 1.0))};
}

bool takes_blur(const MarkTask& task, const MarkBlur& common) {
  constexpr double kApart = 1.07;  // times the common blur: less changes nothing that is told
  return shows_mark(task) && std::abs(std::log(task.match->blur_px / common.px)) > std::log(kApart);
}

}  // namespace jigtrue
