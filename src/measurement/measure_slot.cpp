#include "jigtrue/measurement/measure_slot.hpp"

#include "jigtrue/measurement/judge_slot.hpp"
#include "jigtrue/measurement/measured_length.hpp"
#include "jigtrue/measurement/sketch.hpp"
#include "jigtrue/measurement/uncertainty.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

namespace jigtrue {
namespace {

// Log odds by which a pen must fit better the wrong way round: one in a hundred is put in so, and it is told when that
// is 20 times as likely as not: log 99 + log 20.
constexpr double kSurelyTurned = 7.6;

// How far off other readings put the blank, each by how likely it is beside the chosen one: what the chosen edges' own
// scatter does not tell. Nothing where there is no other.
std::optional<BudgetShare> between_readings(const Readings& readings, const Reading& chosen) {
  constexpr double kLeast = 0.05;  // what is less likely does not belong among 95 of 100
  const BlankPlace& here = chosen.fit.place;
  const Vector2d along = here.along();
  const Vector2d across = here.across();
  BudgetShare share{cause::kOneEdgeOrAnother, 0.0, 0.0, 0.0};
  bool others = false;
  for (const Reading& other : readings.declared) {
    const double odds = std::exp(std::min(other.weight_of_evidence() - chosen.weight_of_evidence(), 0.0));
    const double probability = odds / (1.0 + odds);
    if (&other == &chosen || probability < kLeast) continue;
    const double weight = std::sqrt(probability);
    const Vector2d apart_mm = other.fit.place.centre_mm - here.centre_mm;
    const double turned_rad = std::remainder(other.fit.place.heading_rad - here.heading_rad, 2.0 * kPi);
    share.across_mm = std::max(share.across_mm, weight * std::abs(apart_mm.dot(across)));
    share.along_mm = std::max(share.along_mm, weight * std::abs(apart_mm.dot(along)));
    share.rotation_deg = std::max(share.rotation_deg, weight * deg_from_rad(std::abs(turned_rad)));
    others = true;
  }
  return others ? std::optional(share) : std::nullopt;
}

SlotNumbers numbers_of(const Slot& slot, const OutlineFit& fit, const UncertaintyBudget& budget, double factor) {
  SlotNumbers numbers;
  const BlankPlace& place = fit.place;
  const double along_mm = slot.design ? slot.design->along_mm : 0.0;
  const Vector2d axis = place.along();
  const double nominal = rad_from_deg(slot.axis_deg);
  const Vector2d slot_along = unit_vector(nominal);
  const Vector2d slot_across = turned_left(slot_along);
  const bool disc = std::holds_alternative<DiscBlank>(slot.blank.shape);
  const double turn = disc ? 0.0 : std::remainder(place.heading_rad - nominal, 2.0 * kPi);
  numbers.blank = place;
  numbers.centre_mm = place.centre_mm + along_mm * (disc ? slot_along : axis);
  numbers.offset_mm = numbers.centre_mm - (slot.centre_mm + along_mm * slot_along);
  numbers.across_mm = numbers.offset_mm.dot(slot_across);
  numbers.along_mm = numbers.offset_mm.dot(slot_along);
  numbers.rotation_deg = deg_from_rad(turn);
  numbers.axis_deg = slot.axis_deg + numbers.rotation_deg;
  numbers.uncertainty.across_mm = factor * budget.total.across_mm;
  numbers.uncertainty.along_mm = factor * budget.total.along_mm;
  numbers.uncertainty.rotation_deg = disc ? 0.0 : factor * budget.total.rotation_deg;
  numbers.budget = budget.shares;
  return numbers;
}

bool turns_visibly(const BlankShape& shape) {
  const auto* turned = std::get_if<TurnedBlank>(&shape);
  if (turned == nullptr) return false;
  const double length = turned->profile.back().distance_mm;
  auto diameter_at = [&](double distance) {
    for (std::size_t i = 1; i < turned->profile.size(); ++i) {
      const ProfilePoint& a = turned->profile[i - 1];
      const ProfilePoint& b = turned->profile[i];
      if (distance <= b.distance_mm)
        return a.diameter_mm +
               (b.diameter_mm - a.diameter_mm) * (distance - a.distance_mm) / (b.distance_mm - a.distance_mm);
    }
    return turned->profile.back().diameter_mm;
  };
  double largest = 0.0;
  for (int i = 0; i <= 40; ++i)
    largest = std::max(largest, std::abs(diameter_at(length * i / 40.0) - diameter_at(length * (1.0 - i / 40.0))));
  return largest > 0.5;
}

Blank turned_about(const Blank& blank) {
  Blank result = blank;
  auto& profile = std::get<TurnedBlank>(result.shape).profile;
  const double length = profile.back().distance_mm;
  std::reverse(profile.begin(), profile.end());
  for (ProfilePoint& point : profile) point.distance_mm = length - point.distance_mm;
  return result;
}

SlotResult nominal_result(const Camera& camera, const Slot& slot, const BlankPlace& expected) {
  SlotResult result;
  result.id = slot.id;
  const double along_mm = slot.design ? slot.design->along_mm : 0.0;
  const double nominal = rad_from_deg(slot.axis_deg);
  result.nominal_centre_mm = slot.centre_mm + along_mm * unit_vector(nominal);
  result.nominal_axis_deg = slot.axis_deg;
  if (slot.design) result.design = DesignBox{slot.design->width_mm, slot.design->height_mm};
  result.sketch = sketch_slot(camera, slot, expected, std::nullopt);
  return result;
}

// A blank is looked for as far off as its slot allows. What is met at the very rim of that is hardly one.
bool at_rim_of_search(const SlotTask& task, const OutlineFit& fit) {
  const Vector2d apart_mm = fit.place.centre_mm - task.expected.centre_mm;
  return std::abs(apart_mm.dot(task.expected.across())) > task.range.across_mm;
}

void doubt_numbers(SlotResult& result, const std::string& reason, const std::string& remedy = {}) {
  result.state = SlotState::doubtful;
  result.reasons.assign(1, reason);
  result.remedy = remedy;
}

// What is stated of a slot comes from: its blank as it lies, the readings and the one that was chosen.
struct Chosen {
  View view;
  const SlotTask& task;
  const Slot& as_lies;
  const Readings& readings;
  const Judgement& judgement;
  const MeasureOptions& options;
  [[nodiscard]] const Reading& reading() const { return *judgement.reading; }
};

// A blank found is of the declared size: its tolerance steadies the place. A mismatch is measured as it was read.
OutlineFitOptions closest_fit(const Chosen& chosen) {
  const Blank& blank = chosen.task.slot.blank;
  const BlankPlace& read = chosen.reading().fit.place;
  OutlineFitOptions fit;
  fit.range_px = 2.0;
  fit.curved_shade = false;
  fit.length_sigma_mm = blank.length_tolerance_mm / std::sqrt(3.0);
  if (!near_declared_length(blank, read.length_mm)) fit.length_centre_mm = read.length_mm;
  if (chosen.judgement.state == SlotState::found) {
    fit.girth_sigma_mm = blank.diameter_tolerance_mm / std::sqrt(3.0);
  } else {
    fit.girth_centre_mm = read.girth_mm;
    fit.girth_sigma_mm = 0.5;
  }
  return fit;
}

// Half-width.
double diameter_u_mm(const Chosen& chosen, const OutlineFit& fit) {
  const Blank& blank = chosen.task.slot.blank;
  // A size that contradicts the declared one, on a blank that is taken for it, may as well be a side's edge that lies
  // off.
  const double contradiction_mm = chosen.judgement.state == SlotState::found
                                      ? std::max(0.0, std::abs(fit.girth_free_mm) - blank.diameter_tolerance_mm)
                                      : 0.0;
  // a disc's rim is rounded alike all round: what is seen of it lies as far inside on either side
  const double rim_mm = is_flat(blank.shape) ? 2.0 * kEndsForm_mm : 0.0;
  return chosen.options.coverage_factor * std::hypot(fit.girth_free_sigma_mm, contradiction_mm, rim_mm);
}

// Measures the chosen reading closely and states its numbers; where that does not hold, the state is doubtful.
void state_numbers(const Chosen& chosen, MeasuredSlot& measured) {
  SlotResult& result = measured.result;
  const Slot& slot = chosen.task.slot;
  const Reading& reading = chosen.reading();
  const OutlineFitOptions fit_options = closest_fit(chosen);
  const auto fit = fit_outline(chosen.view, reading.fit.place, fit_options);
  if (!fit) {
    doubt_numbers(result, "the outline does not hold together when measured closely");
    return;
  }
  if (at_rim_of_search(chosen.task, *fit)) {
    doubt_numbers(result, "what looks like the blank lies as far off as was looked for",
                  "see whether the fixture stands where it should, and what lies there");
    return;
  }
  const bool start = reading.shown(OutlinePart::start);
  const bool end = reading.shown(OutlinePart::end);
  const UncertaintyBudget budget =
      make_budget(chosen.view.camera, chosen.as_lies, *fit, reading.fit.place,
                  between_readings(chosen.readings, reading), start && end, chosen.options.lens_error_px);
  result.numbers = numbers_of(slot, *fit, budget, chosen.options.coverage_factor);
  result.log_ratio = reading.log_ratio();
  result.two_materials = reading.two_materials;
  measured.limb_light = limb_light(*fit);
  result.length = measured_length(*fit, slot.blank.shape, *fit_options.length_sigma_mm, start, end);
  const double girth_u_mm = diameter_u_mm(chosen, *fit);
  result.girth = MeasuredGirth{largest_girth_mm(slot.blank.shape) + fit->girth_free_mm,
                               girth_u_mm / chosen.options.coverage_factor};
  if (!std::holds_alternative<PlateBlank>(slot.blank.shape)) {
    result.numbers->diameter_mm = result.girth->mm;
    result.numbers->uncertainty.diameter_mm = girth_u_mm;
  }
}

SeenSize seen_size(const Blank& blank, const OutlineFit& fit) {
  SeenSize seen;
  if (!std::holds_alternative<DiscBlank>(blank.shape)) seen.length_mm = length_mm(blank.shape) + fit.place.length_mm;
  seen.girth_mm = largest_girth_mm(blank.shape) + fit.girth_free_mm;
  seen.centre_mm = fit.place.centre_mm;
  return seen;
}

std::vector<Vector2d> seen_by_more_than_chance(const Readings& readings) {
  std::vector<Vector2d> centres_mm;
  for (const Reading& reading : readings.declared)
    if (reading.log_ratio() >= kMoreThanChance) centres_mm.push_back(reading.fit.place.centre_mm);
  return centres_mm;
}

}  // namespace

BlankPlace nominal_place(const Slot& slot) { return {slot.centre_mm, rad_from_deg(slot.axis_deg), 0.0, 0.0}; }

void add_clutter_around(const View& view, const SlotTask& task, EdgeClutter& clutter) {
  struct Askew {
    double across;  // of the search's range
    double along;
    double turn;
  };
  constexpr std::array kAskew{Askew{0.55, 0.3, 0.5}, Askew{-0.75, -0.6, -0.8}, Askew{0.9, -0.35, -0.3},
                              Askew{-0.4, 0.8, 0.9}};
  constexpr double kRange_px = 3.0;  // as in the fits: clutter is looked for as edges are
  for (const Askew& askew : kAskew) {
    BlankPlace place = task.expected;
    const Vector2d along = place.along();
    const Vector2d across = place.across();
    place.centre_mm += askew.across * task.range.across_mm * across + askew.along * task.range.along_mm * along;
    place.heading_rad += askew.turn * rad_from_deg(task.range.turn_deg);
    clutter.add(edges_along(view, place, kRange_px), kRange_px);
  }
}

MeasuredSlot measure_slot(const Photo& photo, const SearchPicture& picture, const Camera& camera,
                          const Camera& sketch_camera, const SlotTask& task, const MeasureOptions& options,
                          EdgeModelStore& models) {
  const Slot& slot = task.slot;
  const BlankPlace& expected = task.expected;
  MeasuredSlot measured{nominal_result(sketch_camera, slot, expected), {}, {}};
  SlotResult& result = measured.result;
  const EdgeClutter& clutter = task.clutter;
  const View view{photo, camera, slot.blank, slot.seat, options.blur, models, options.bare_jig};
  const Readings readings = read_slot(view, task.coarse, clutter);
  Judgement judgement = judge(slot.blank, readings);

  // A pen may lie the wrong way round: then its profile fits better reversed.
  Slot as_lies = slot;
  std::optional<Readings> reversed;
  const Readings* taken = &readings;
  if (turns_visibly(slot.blank.shape)) {
    as_lies.blank = turned_about(slot.blank);
    const CoarseFinding coarse = search_slot(picture, camera, as_lies.blank, slot.seat, expected, task.range);
    reversed = read_slot(view.with(as_lies.blank), coarse, clutter);
    Judgement other = judge(as_lies.blank, *reversed);
    double this_way = 0.0;
    for (const Reading& reading : readings.declared) this_way = std::max(this_way, reading.log_ratio());
    if (other.state == SlotState::found && other.reading->log_ratio() - this_way > kSurelyTurned) {
      taken = &*reversed;
      judgement = other;
      judgement.state = SlotState::mismatch;
      judgement.reasons.assign(1, "turned end for end");
      judgement.remedy = "take it out and turn it round";
      result.turned_about = true;
    } else {
      as_lies.blank = slot.blank;
    }
  }
  result.state = judgement.state;
  result.reasons = judgement.reasons;
  result.remedy = judgement.remedy;
  result.too_little_seen = judgement.too_little_seen;
  if (judgement.too_little_seen) measured.may_lie_mm = seen_by_more_than_chance(readings);
  if (judgement.of_another_size != nullptr) result.seen = seen_size(slot.blank, judgement.of_another_size->fit);
  if (judgement.reading == nullptr) return measured;

  result.seen = seen_size(slot.blank, judgement.reading->fit);
  state_numbers({view.with(as_lies.blank), task, as_lies, *taken, judgement, options}, measured);
  if (result.length && judgement.state == SlotState::found) result.seen->length_mm = result.length->own_mm;
  if (result.numbers) result.sketch = sketch_slot(sketch_camera, as_lies, expected, result.numbers->blank);
  return measured;
}

}  // namespace jigtrue
