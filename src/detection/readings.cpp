#include "jigtrue/detection/readings.hpp"

#include "jigtrue/detection/plausibility.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

namespace jigtrue {
namespace {

constexpr double kClearProbability = 0.7;     // of being the blank: with less a reading is not taken for found
constexpr double kCertainProbability = 0.95;  // no further candidates are looked at
constexpr double kAsWell = 0.95;  // of what the coarse search saw of the clear one, for another size to be looked at
constexpr double kLengthDoubtMm = 0.6;
constexpr double kEndShare = 0.5;  // of an end's stretches that must agree, to about kSeenScatterPx
constexpr double kSeenScatterPx = 1.6;
constexpr double kEndGain = 3.0;  // ends are short: texture mimics one more easily than a side
constexpr double kEndScatterPx = 0.6;
constexpr double kLookedAtSupport = 0.25;  // candidates with less are not measured closely
constexpr double kWorthCrossing = 0.3;     // probability of a reading from which on its ends are tried with another's
// Log odds behind another reading from which on a candidate's other ends are let be. Of 1,400 slots, drawn and traced,
// none that is found lost more than 0.3 of them by it.
constexpr double kHopeless = 2.0;
constexpr double kSharpShare = 0.66;
constexpr double kSharpGain = 3.0;
constexpr double kSharpScatterPx = 0.6;
constexpr double kOtherProbability = 0.9;  // of another size; and so on, to be claimed
constexpr double kOtherSupport = 0.5;
constexpr double kOtherEndsSupport = 0.6;
constexpr double kOtherEndsQuality = 0.6;
constexpr double kOtherGirthShare = 0.1;
constexpr double kRunsOn = 0.5;  // share of the stretches beyond the ends from which on the sides are the fixture's own
constexpr double kBeyondFromMm = 1.5;  // the stretch beyond an end that is looked at
constexpr double kBeyondToMm = 7.0;

// A straight blank, longer by the stretches beyond its ends, lying as this one does.
Blank lengthened(const Blank& blank, double extra_mm) {
  Blank longer = blank;
  if (const auto* turned = std::get_if<TurnedBlank>(&blank.shape)) {
    TurnedBlank shape = *turned;
    for (ProfilePoint& point : shape.profile) point.distance_mm += extra_mm / 2.0;
    shape.profile.insert(shape.profile.begin(), {0.0, shape.profile.front().diameter_mm});
    shape.profile.push_back({shape.profile.back().distance_mm + extra_mm / 2.0, shape.profile.back().diameter_mm});
    longer.shape = shape;
  } else {
    longer.shape = grown(blank.shape, 0.0, extra_mm);
  }
  return longer;
}

double runs_on(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat, const BlankPlace& place,
               const PictureBlur& blur, EdgeModelStore& models) {
  if (std::holds_alternative<DiscBlank>(blank.shape)) return 0.0;
  const double half = (length_mm(blank.shape) + place.length_mm) / 2.0;
  const Blank longer = lengthened(blank, 2.0 * kBeyondToMm);
  std::vector<SideStretch> beyond;
  for (const OutlinePart part : {OutlinePart::left, OutlinePart::right})
    for (const double sign : {-1.0, 1.0})
      beyond.push_back({part, sign * (half + kBeyondFromMm), sign * (half + kBeyondToMm)});
  int stretches = 0;
  int edges = 0;
  for (const std::optional<EdgeFit>& edge : edges_beside(photo, camera, longer, seat, place, beyond, blur, models)) {
    if (!edge) continue;
    ++stretches;
    if (edge->gain > 3.0 && std::abs(edge->position_px) < 1.0) ++edges;
  }
  return stretches > 0 ? static_cast<double>(edges) / stretches : 0.0;
}

// Whether the blank seems to stop short of one of its ends: neither side shows just inside it, as where a pocket's wall
// was taken for the end. Sides that are faint all along say nothing by being missed there. Flat blanks have their round
// corners there, discs no sides.
bool stops_short(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat, const OutlineFit& fit,
                 const PictureBlur& blur, EdgeModelStore& models) {
  constexpr double kFrom_mm = 0.4;  // ends are chamfered and rounded
  constexpr double kTo_mm = 2.4;    // in which a small picture, too, has samples enough
  constexpr double kLeastGain = 2.0;
  constexpr double kOnOutline_px = 1.0;
  constexpr double kPlainSideGain = 8.0;  // of some millimetres of a side, which leaves a short stretch more than noise
  const double faintest = std::min(fit.part(OutlinePart::left).gain, fit.part(OutlinePart::right).gain);
  if (is_flat(blank.shape) || faintest < kPlainSideGain) return false;
  const double half = (length_mm(blank.shape) + fit.place.length_mm) / 2.0;
  std::vector<SideStretch> inside;
  for (const double sign : {-1.0, 1.0})
    for (const OutlinePart part : {OutlinePart::left, OutlinePart::right})
      inside.push_back({part, sign * (half - kFrom_mm), sign * (half - kTo_mm)});
  const auto edges = edges_beside(photo, camera, blank, seat, fit.place, inside, blur, models);
  const auto missing = [&](std::size_t i) {
    return edges[i] && (edges[i]->gain < kLeastGain || std::abs(edges[i]->position_px) >= kOnOutline_px);
  };
  return (missing(0) && missing(1)) || (missing(2) && missing(3));
}

bool near_declared_length(const Blank& blank, double extra_mm) {
  return std::abs(extra_mm) <= blank.length_tolerance_mm + kLengthDoubtMm;
}

// A candidate and what else its ends may be: where they are not as far apart as declared, one of them may be something
// else, and the blank lies the declared length from either of them; and another pair that stands out as well.
std::vector<Candidate> with_other_lengths(const Candidate& candidate, const Blank& blank) {
  std::vector<Candidate> starts = {candidate};
  const Vector2d along(std::cos(candidate.place.heading_rad), std::sin(candidate.place.heading_rad));
  if (!near_declared_length(blank, candidate.place.length_mm)) {
    for (const double sign : {-1.0, 1.0}) {
      Candidate from_one_end = candidate;
      from_one_end.place.centre_mm += sign * 0.5 * candidate.place.length_mm * along;
      from_one_end.place.length_mm = 0.0;
      starts.push_back(from_one_end);
    }
  }
  const auto with_ends = [&](const Candidate::OtherEnds& ends) {
    Candidate other = candidate;
    other.place.centre_mm += ends.along_mm * along;
    other.place.length_mm = ends.length_mm;
    other.start = ends.start;
    other.end = ends.end;
    starts.push_back(other);
  };
  for (const Candidate::OtherEnds& ends : candidate.like_ends) {
    with_ends(ends);
    starts.back().of_declared_length = true;
  }
  // a turned blank's rings and joints end as it does itself
  if (candidate.other_ends && !std::holds_alternative<TurnedBlank>(blank.shape)) {
    with_ends(*candidate.other_ends);
  }
  return starts;
}

// `earlier`: the slot's readings so far that, like this one, hold the girth near the declared one, or like it do not.
std::optional<Reading> closely(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                               const Candidate& candidate, bool declared, double ends_at_expected,
                               const PictureBlur& blur, std::span<const Reading> earlier, EdgeModelStore& models) {
  BlankPlace start = candidate.place;
  OutlineFitOptions options;
  options.blur = blur;
  if (declared) {
    start.girth_mm = 0.0;
    options.girth_sigma_mm = std::max(blank.diameter_tolerance_mm / std::sqrt(3.0), 0.1);
  } else {
    options.girth_centre_mm = start.girth_mm;
    options.girth_sigma_mm = 0.5;
  }
  // ends that lie clearly further apart, or closer, than declared are measured as they are
  const bool declared_length = near_declared_length(blank, start.length_mm);
  options.length_centre_mm = declared_length ? 0.0 : start.length_mm;
  options.length_sigma_mm = declared_length ? blank.length_tolerance_mm / std::sqrt(3.0) : 0.5;
  for (const Reading& reading : earlier) options.known.push_back(&reading.fit);
  auto fit = fit_outline(photo, camera, blank, seat, start, options, models);
  if (!fit) return std::nullopt;
  Reading reading;
  if (fit->known) {
    reading = earlier[*fit->known];
  } else {
    reading.declared_size = declared;
    reading.runs_on = runs_on(photo, camera, blank, seat, fit->place, blur, models);
    reading.stops_short = stops_short(photo, camera, blank, seat, *fit, blur, models);
    reading.corners = corners_on_outline(photo, camera, blank, seat, fit->place, blur, models);
    reading.fit = std::move(*fit);
  }
  reading.of_declared_length = candidate.of_declared_length;
  reading.support = candidate.sides();
  reading.ends_support = candidate.ends();
  reading.log_odds = log_odds_of_blank(traits_of(reading, blank, ends_at_expected), blank.shape);
  return reading;
}

// Where a blank's ends lie along another's axis, from its middle.
struct EndsAlong {
  double start_mm = 0.0;
  double end_mm = 0.0;
  [[nodiscard]] double apart_mm(const EndsAlong& other) const {
    return std::max(std::abs(start_mm - other.start_mm), std::abs(end_mm - other.end_mm));
  }
};
EndsAlong ends_along(const BlankPlace& axis, const BlankPlace& place, const Blank& blank) {
  const Vector2d along(std::cos(axis.heading_rad), std::sin(axis.heading_rad));
  const double middle_mm = (place.centre_mm - axis.centre_mm).dot(along);
  const double half_mm = 0.5 * (length_mm(blank.shape) + place.length_mm);
  return {middle_mm - half_mm, middle_mm + half_mm};
}

bool of_same_sides(const BlankPlace& a, const BlankPlace& b) {
  constexpr double kSame_mm = 0.5;
  constexpr double kSame_rad = 0.01;
  const Vector2d across(-std::sin(a.heading_rad), std::cos(a.heading_rad));
  return std::abs((a.centre_mm - b.centre_mm).dot(across)) < kSame_mm &&
         std::abs(std::remainder(a.heading_rad - b.heading_rad, 2.0 * kPi)) < kSame_rad;
}

// The start of one reading with the end of another, where that pair is about as far apart as declared and was not
// looked at yet: either reading may have taken a pocket's wall for one of its ends.
std::vector<Candidate> with_ends_crossed(const std::vector<Reading>& readings, const Blank& blank) {
  constexpr double kOtherEnds_mm = 0.4;
  constexpr std::size_t kMost = 3;
  const double least = log_odds(kWorthCrossing);
  std::vector<Candidate> crossed;
  if (std::holds_alternative<DiscBlank>(blank.shape)) return crossed;  // it has no ends
  const auto was_looked_at = [&](const BlankPlace& axis, const EndsAlong& ends) {
    const auto near = [&](const BlankPlace& place) {
      return ends_along(axis, place, blank).apart_mm(ends) < kOtherEnds_mm;
    };
    return std::any_of(readings.begin(), readings.end(), [&](const Reading& r) { return near(r.fit.place); }) ||
           std::any_of(crossed.begin(), crossed.end(), [&](const Candidate& c) { return near(c.place); });
  };
  for (const Reading& a : readings) {
    for (const Reading& b : readings) {
      if (&a == &b || a.log_odds < least || b.log_odds < least || crossed.size() == kMost ||
          !of_same_sides(a.fit.place, b.fit.place))
        continue;
      const BlankPlace& axis = a.fit.place;
      const EndsAlong ends{ends_along(axis, axis, blank).start_mm, ends_along(axis, b.fit.place, blank).end_mm};
      const double longer_mm = ends.end_mm - ends.start_mm - length_mm(blank.shape);
      if (std::abs(longer_mm) > blank.length_tolerance_mm || was_looked_at(axis, ends)) continue;
      Candidate candidate;
      candidate.place = axis;
      const Vector2d along(std::cos(axis.heading_rad), std::sin(axis.heading_rad));
      candidate.place.centre_mm += 0.5 * (ends.start_mm + ends.end_mm) * along;
      candidate.place.length_mm = longer_mm;
      candidate.left = candidate.right = a.support;
      candidate.start = candidate.end = std::min(a.ends_support, b.ends_support);
      candidate.of_declared_length = true;
      crossed.push_back(candidate);
    }
  }
  return crossed;
}

// Clear readings first, of these those of the declared length, then by how likely they are.
void sort_readings(std::vector<Reading>& readings, const Blank& blank) {
  std::stable_sort(readings.begin(), readings.end(), [&](const Reading& a, const Reading& b) {
    const bool clear_a = is_clear(a, blank);
    const bool clear_b = is_clear(b, blank);
    if (clear_a != clear_b) return clear_a;
    const bool declared_a = near_declared_length(blank, a.fit.place.length_mm);
    const bool declared_b = near_declared_length(blank, b.fit.place.length_mm);
    if (clear_a && declared_a != declared_b) return declared_a;
    return a.log_odds > b.log_odds;
  });
}

// How well the coarse search saw the candidate that a reading came from.
double seen_at_first(const Reading& reading) {
  Candidate candidate;
  candidate.left = candidate.right = reading.support;
  candidate.start = candidate.end = reading.ends_support;
  return candidate.whole_outline();
}

bool any_certain(const std::vector<Reading>& readings, const Blank& blank) {
  return std::any_of(readings.begin(), readings.end(), [&](const Reading& reading) {
    return is_clear(reading, blank) && reading.log_odds >= log_odds(kCertainProbability);
  });
}

bool sharp(const PartQuality& part) {
  return part.used >= 2 && part.share() >= kSharpShare && part.gain >= kSharpGain && part.scatter_px <= kSharpScatterPx;
}

bool sharp_all_round(const Reading& reading) {
  return sharp(reading.fit.part(OutlinePart::left)) && sharp(reading.fit.part(OutlinePart::right)) &&
         sharp(reading.fit.part(OutlinePart::start)) && sharp(reading.fit.part(OutlinePart::end));
}

}  // namespace

bool end_is_seen(const PartQuality& end) {
  return end.used >= 2 && end.share() >= kEndShare && end.gain >= kEndGain && end.scatter_px <= kSeenScatterPx;
}

bool Reading::end_seen(OutlinePart part) const { return end_is_seen(fit.part(part)); }

double ends_quality(const Reading& reading) {
  constexpr double kPlainLogGain = 2.5;
  double product = 1.0;
  for (const OutlinePart part : {OutlinePart::start, OutlinePart::end}) {
    const PartQuality& end = reading.fit.part(part);
    if (end.used == 0) return 0.0;
    const double z = end.scatter_px / kEndScatterPx;
    product *= end.share() / (1.0 + z * z) * std::clamp(std::log(end.gain), 0.0, kPlainLogGain) / kPlainLogGain;
  }
  return std::sqrt(product);
}

double likeliest(const std::vector<Reading>& readings) {
  double most = -std::numeric_limits<double>::infinity();
  for (const Reading& reading : readings) most = std::max(most, reading.log_odds);
  return most;
}

double girth_limit_mm(const Reading& reading, const Blank& blank) {
  constexpr double kCreases_mm = 0.15;  // a flat blank's sides are no limbs: nothing shades them apart
  if (is_flat(blank.shape)) return blank.diameter_tolerance_mm + kCreases_mm;
  return blank.diameter_tolerance_mm + std::clamp(2.5 * reading.fit.girth_free_sigma_mm, 0.25, 0.35);
}

bool is_clear(const Reading& reading, const Blank& blank) {
  if (!reading.declared_size || reading.stops_short || reading.log_odds < log_odds(kClearProbability)) return false;
  if (std::abs(reading.fit.girth_free_mm) > girth_limit_mm(reading, blank)) return false;
  // another length is believed only when both ends say so, and plainly
  return near_declared_length(blank, reading.fit.place.length_mm) ||
         (reading.both_ends_seen() && reading.log_odds >= log_odds(kOtherProbability) &&
          ends_quality(reading) >= kOtherEndsQuality);
}

double other_girth_from_mm(const Reading& reading, const Blank& blank) {
  return std::max(girth_limit_mm(reading, blank), kOtherGirthShare * largest_girth_mm(blank.shape));
}

bool is_another_size(const Reading& reading, const Blank& blank) {
  return reading.log_odds >= log_odds(kOtherProbability) && reading.runs_on < kRunsOn &&
         reading.support >= kOtherSupport && reading.ends_support >= kOtherEndsSupport && sharp_all_round(reading) &&
         ends_quality(reading) >= kOtherEndsQuality &&
         std::abs(reading.fit.girth_free_mm) > other_girth_from_mm(reading, blank);
}

Readings read_slot(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                   const CoarseFinding& coarse, const PictureBlur& blur, EdgeModelStore& models, HowMany how_many) {
  Readings readings;
  readings.in_picture = !coarse.candidates.empty() || !coarse.other_sizes.empty();
  readings.chance = coarse.chance;
  readings.ends_support = coarse.ends_at_expected;
  for (const auto* list : {&coarse.candidates, &coarse.other_sizes})
    for (const Candidate& candidate : *list) readings.support = std::max(readings.support, candidate.sides());
  const bool stop_early = how_many == HowMany::until_certain;
  auto look = [&](const Candidate& candidate, bool declared, std::vector<Reading>& list) {
    if (candidate.sides() < kLookedAtSupport) return;
    const std::vector<Candidate> starts = declared ? with_other_lengths(candidate, blank) : std::vector{candidate};
    for (const Candidate& start : starts) {
      // Beside a certain reading nothing is measured twice; but a flat blank's wall is a second edge so near that a fit
      // which passes a place may yet leave it.
      const bool certain = stop_early && !is_flat(blank.shape) && any_certain(readings.declared, blank);
      const std::span<const Reading> earlier = certain ? std::span<const Reading>(list) : std::span<const Reading>();
      auto reading =
          closely(photo, camera, blank, seat, start, declared, coarse.ends_at_expected, blur, earlier, models);
      if (!reading) continue;
      const bool hopeless = reading->log_odds < likeliest(list) - kHopeless;
      list.push_back(std::move(*reading));
      // sides that are none: what the ends may be besides does not matter
      if (stop_early && &start == &starts.front() && hopeless) break;
    }
  };
  for (const Candidate& candidate : coarse.candidates) {
    look(candidate, true, readings.declared);
    if (stop_early && any_certain(readings.declared, blank)) break;
  }
  for (const Candidate& candidate : with_ends_crossed(readings.declared, blank))
    look(candidate, true, readings.declared);
  sort_readings(readings.declared, blank);
  // Once one of the declared size is clear, only what the coarse search saw about as well can stand against it.
  const bool clear = stop_early && !readings.declared.empty() && is_clear(readings.declared.front(), blank);
  const double least = clear ? kAsWell * seen_at_first(readings.declared.front()) : 0.0;
  for (const Candidate& candidate : coarse.other_sizes)
    if (candidate.whole_outline() >= least) look(candidate, false, readings.other_sizes);
  // what measures as the declared size after all is measured as that
  for (const Reading& other : readings.other_sizes) {
    if (std::abs(other.fit.girth_free_mm) > girth_limit_mm(other, blank)) continue;
    Candidate again;
    again.place = other.fit.place;
    again.left = again.right = other.support;
    again.start = again.end = other.ends_support;
    look(again, true, readings.declared);
  }
  sort_readings(readings.declared, blank);
  sort_readings(readings.other_sizes, blank);
  return readings;
}

}  // namespace jigtrue
