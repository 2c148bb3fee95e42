#include "jigtrue/measurement/measure_slot.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "jigtrue/measurement/sketch.hpp"
#include "jigtrue/measurement/uncertainty.hpp"

namespace jigtrue {
namespace {

// Shares of a part's blocks that must agree before it counts as seen; common sense, checked by the tests of false accepts.
constexpr double kSideShare = 0.5;
constexpr double kEndShare = 0.5;
constexpr double kSmallestSupport = 0.25;   // of a candidate's sides to be looked at closely
constexpr double kEmptySupport = 0.45;      // above it something with two sides stands in the slot
constexpr double kMinGain = 2.0;            // median gain of a part's used blocks

std::string number(double value, int decimals) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  return text;
}

bool side_seen(const PartQuality& part) { return part.used >= 3 && part.share() >= kSideShare && part.gain >= kMinGain; }
bool end_seen(const PartQuality& part) { return part.used >= 2 && part.share() >= kEndShare; }

struct Reading {
  OutlineFit fit;
  Candidate candidate;
  double girth_u_mm = 0.0;  // 95 %
  [[nodiscard]] bool left() const { return side_seen(fit.part(OutlinePart::left)); }
  [[nodiscard]] bool right() const { return side_seen(fit.part(OutlinePart::right)); }
  [[nodiscard]] bool start() const { return end_seen(fit.part(OutlinePart::start)); }
  [[nodiscard]] bool end() const { return end_seen(fit.part(OutlinePart::end)); }
};

// Girth and length free: what does the outline itself say?
std::optional<Reading> read_freely(const Photo& photo, const Camera& camera, const Slot& slot, const Candidate& candidate,
                                   const MeasureOptions& options, EdgeModelStore& models) {
  OutlineFitOptions fit_options;
  fit_options.blur = options.blur;
  auto fit = fit_outline(photo, camera, slot.blank, slot.seat, candidate.place, fit_options, models);
  if (!fit) return std::nullopt;
  Reading reading{std::move(*fit), candidate, 0.0};
  reading.girth_u_mm = options.coverage_factor * std::sqrt(reading.fit.covariance(kGirth, kGirth));
  return reading;
}

// The reading that most of the outline speaks for. Sizes other than the declared one must be clearly better.
std::optional<Reading> best_reading(const Photo& photo, const Camera& camera, const Slot& slot, const CoarseFinding& coarse,
                                    const MeasureOptions& options, EdgeModelStore& models) {
  std::optional<Reading> best;
  double best_score = 0.0;
  auto consider = [&](const std::vector<Candidate>& candidates, std::size_t count, double weight) {
    for (std::size_t i = 0; i < std::min(count, candidates.size()); ++i) {
      if (candidates[i].sides() < kSmallestSupport) continue;
      auto reading = read_freely(photo, camera, slot, candidates[i], options, models);
      if (!reading) continue;
      const double score = weight * reading->fit.evidence * candidates[i].sides();
      if (score > best_score) {
        best_score = score;
        best = std::move(reading);
      }
    }
  };
  consider(coarse.candidates, 3, 1.0);
  consider(coarse.other_sizes, 2, 0.8);
  return best;
}

std::string girth_word(const Blank& blank) { return std::holds_alternative<PlateBlank>(blank.shape) ? "height" : "diameter"; }

double declared_girth(const Blank& blank) {
  if (const auto* plate = std::get_if<PlateBlank>(&blank.shape)) return plate->height_mm;
  return largest_diameter_mm(blank.shape).value_or(0.0);
}

void judge_size(const Slot& slot, const Reading& reading, SlotResult& result) {
  const double girth_limit = slot.blank.diameter_tolerance_mm + std::max(reading.girth_u_mm, 0.2);
  const double girth = reading.fit.place.girth_mm;
  if (reading.left() && reading.right() && std::abs(girth) > girth_limit) {
    result.state = SlotState::mismatch;
    result.reasons.push_back(girth_word(slot.blank) + " measures " + number(declared_girth(slot.blank) + girth, 2) + " mm, declared " +
                             number(declared_girth(slot.blank), 2) + " mm");
  }
  if (std::holds_alternative<DiscBlank>(slot.blank.shape)) return;
  const double length_limit = slot.blank.length_tolerance_mm + 0.3;
  if (reading.start() && reading.end() && std::abs(reading.fit.place.length_mm) > length_limit) {
    result.state = SlotState::mismatch;
    result.reasons.push_back("length measures " + number(length_mm(slot.blank.shape) + reading.fit.place.length_mm, 1) +
                             " mm, declared " + number(length_mm(slot.blank.shape), 1) + " mm");
  }
}

SlotNumbers numbers_of(const Slot& slot, const OutlineFit& fit, bool along_known, const UncertaintyBudget& budget, double factor) {
  SlotNumbers numbers;
  const BlankPlace& place = fit.place;
  const double along_mm = slot.design ? slot.design->along_mm : 0.0;
  const Vector2d axis(std::cos(place.heading_rad), std::sin(place.heading_rad));
  const double nominal = rad_from_deg(slot.axis_deg);
  const Vector2d slot_along(std::cos(nominal), std::sin(nominal));
  const Vector2d slot_across(-slot_along.y(), slot_along.x());
  const Vector2d nominal_point = slot.centre_mm + along_mm * slot_along;
  const bool disc = std::holds_alternative<DiscBlank>(slot.blank.shape);
  numbers.centre_mm = place.centre_mm + along_mm * axis;
  numbers.offset_mm = numbers.centre_mm - nominal_point;
  numbers.across_mm = numbers.offset_mm.dot(slot_across);
  if (along_known) {
    numbers.along_mm = numbers.offset_mm.dot(slot_along);
  } else {
    // nothing is known along the axis: the point on the axis abreast of the nominal one
    const double back = numbers.offset_mm.dot(slot_along) / std::max(axis.dot(slot_along), 0.1);
    numbers.centre_mm -= back * axis;
    numbers.offset_mm = numbers.centre_mm - nominal_point;
    numbers.across_mm = numbers.offset_mm.dot(slot_across);
  }
  const double turn = disc ? 0.0 : std::remainder(place.heading_rad - nominal, 2.0 * kPi);
  numbers.rotation_deg = deg_from_rad(turn);
  numbers.axis_deg = slot.axis_deg + numbers.rotation_deg;
  if (const auto diameter = largest_diameter_mm(slot.blank.shape)) numbers.diameter_mm = *diameter + place.girth_mm;
  numbers.uncertainty.across_mm = factor * budget.total.across_mm;
  if (along_known) numbers.uncertainty.along_mm = factor * budget.total.along_mm;
  numbers.uncertainty.rotation_deg = disc ? 0.0 : factor * budget.total.rotation_deg;
  if (numbers.diameter_mm) numbers.uncertainty.diameter_mm = factor * budget.diameter_mm;
  numbers.budget = budget.shares;
  return numbers;
}

}  // namespace

BlankPlace nominal_place(const Slot& slot) { return {slot.centre_mm, rad_from_deg(slot.axis_deg), 0.0, 0.0}; }

SlotResult measure_slot(const Photo& photo, const Camera& camera, const Slot& slot, const BlankPlace& expected,
                        const MeasureOptions& options, EdgeModelStore& models) {
  SlotResult result;
  result.id = slot.id;
  const double along_mm = slot.design ? slot.design->along_mm : 0.0;
  const double nominal = rad_from_deg(slot.axis_deg);
  result.nominal_centre_mm = slot.centre_mm + along_mm * Vector2d(std::cos(nominal), std::sin(nominal));
  result.nominal_axis_deg = slot.axis_deg;
  if (slot.design) result.design = DesignBox{slot.design->width_mm, slot.design->height_mm};
  result.sketch = sketch_slot(camera, slot, expected, std::nullopt);

  const CoarseFinding coarse = search_slot(photo, camera, slot.blank, slot.seat, expected, options.range);
  if (coarse.candidates.empty() && coarse.other_sizes.empty()) {
    result.state = SlotState::doubtful;
    result.reasons.emplace_back("the slot lies outside the picture or nearly so");
    return result;
  }
  const auto reading = best_reading(photo, camera, slot, coarse, options, models);
  const bool sides = reading && reading->left() && reading->right();
  const bool ends = reading && (reading->start() || reading->end());
  if (!reading || !sides || !ends) {
    const double support = std::max(coarse.candidates.empty() ? 0.0 : coarse.candidates.front().sides(),
                                    coarse.other_sizes.empty() ? 0.0 : coarse.other_sizes.front().sides());
    const bool anything = support >= kEmptySupport || (sides && reading->candidate.sides() >= kEmptySupport);
    result.state = anything ? SlotState::doubtful : SlotState::empty;
    result.reasons.emplace_back(anything ? "something lies there, but its outline is not clear enough to be measured"
                                         : "no blank: no pair of edges as far apart as the blank is wide");
    return result;
  }
  result.state = SlotState::found;
  judge_size(slot, *reading, result);

  // Of the declared size, its tolerance steadies the place; a mismatch is measured as it is.
  OutlineFitOptions fit_options;
  fit_options.blur = options.blur;
  fit_options.range_px = 2.0;
  if (result.state == SlotState::found) {
    fit_options.girth_sigma_mm = slot.blank.diameter_tolerance_mm / std::sqrt(3.0);
    fit_options.length_sigma_mm = slot.blank.length_tolerance_mm / std::sqrt(3.0);
  } else {
    fit_options.girth_centre_mm = reading->fit.place.girth_mm;
  }
  const auto fit = fit_outline(photo, camera, slot.blank, slot.seat, reading->fit.place, fit_options, models);
  if (!fit) {
    result.state = SlotState::doubtful;
    result.reasons.assign(1, "the outline does not hold together when measured closely");
    return result;
  }
  const UncertaintyBudget budget = make_budget(camera, slot, *fit, options.lens_error_px);
  result.numbers = numbers_of(slot, *fit, true, budget, options.coverage_factor);
  result.numbers->diameter_mm = largest_diameter_mm(slot.blank.shape)
                                    ? std::optional<double>(declared_girth(slot.blank) + reading->fit.place.girth_mm)
                                    : std::nullopt;
  if (result.numbers->diameter_mm) result.numbers->uncertainty.diameter_mm = reading->girth_u_mm;
  result.sketch = sketch_slot(camera, slot, expected, fit->place);
  return result;
}

}  // namespace jigtrue
