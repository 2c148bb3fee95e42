#include "jigtrue/detection/readings.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

#include "detection/denied_ends.hpp"

namespace jigtrue {
namespace {

constexpr std::size_t kSharedWith = 3;  // other outlines whose sides a declared blank may share
// Beside a reading that is plain all round only what the coarse search saw about as well is measured, too.
constexpr double kAsWell = 0.95;

// A candidate and what else its ends may be: where they are not as far apart as declared, one of them may be something
// else, and the blank lies the declared length from either of them; and another pair that stands out as well.
std::vector<Candidate> with_other_lengths(const Candidate& candidate, const Blank& blank) {
  std::vector<Candidate> starts = {candidate};
  const Vector2d along = candidate.place.along();
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
  }
  // a turned blank's rings and joints end as it does itself
  if (candidate.other_ends && !std::holds_alternative<TurnedBlank>(blank.shape)) {
    with_ends(*candidate.other_ends);
  }
  return starts;
}

// `earlier`: the slot's readings so far that, like this one, hold the girth near the declared one, or like it do not.
std::optional<Reading> closely(const View& view, const EdgeClutter& clutter, const Candidate& candidate, bool declared,
                               std::span<const Reading> earlier) {
  const Blank& blank = view.blank;
  BlankPlace start = candidate.place;
  OutlineFitOptions options;
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
  auto fit = fit_outline(view, start, options);
  if (!fit) return std::nullopt;
  Reading reading;
  if (fit->known) {
    reading = earlier[*fit->known];
  } else {
    reading.declared_size = declared;
    reading.evidence = evidence_of(*fit, clutter);
    reading.two_materials = two_materials_log_ratio(*fit);
    reading.end_denied = denied_ends(view, *fit);
    reading.fit = std::move(*fit);
  }
  reading.support = candidate.sides();
  reading.ends_support = candidate.ends();
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
  const Vector2d along = axis.along();
  const double middle_mm = (place.centre_mm - axis.centre_mm).dot(along);
  const double half_mm = 0.5 * (length_mm(blank.shape) + place.length_mm);
  return {middle_mm - half_mm, middle_mm + half_mm};
}

bool of_same_sides(const BlankPlace& a, const BlankPlace& b) {
  constexpr double kSame_mm = 0.5;    // as far as edges are told apart in a coarse view
  constexpr double kSame_rad = 0.01;  // half a millimetre at either end of 100
  const Vector2d across = a.across();
  return std::abs((a.centre_mm - b.centre_mm).dot(across)) < kSame_mm &&
         std::abs(std::remainder(a.heading_rad - b.heading_rad, 2.0 * kPi)) < kSame_rad;
}

// The start of one reading with the end of another, where that pair is about as far apart as declared and was not
// looked at yet: either reading may have taken a pocket's wall for one of its ends.
std::vector<Candidate> with_ends_crossed(const std::vector<Reading>& readings, const Blank& blank) {
  constexpr double kOtherEnds_mm = 0.4;  // nearer ends are the same, fitted twice
  constexpr std::size_t kMost = 3;       // pairs of readings whose ends are exchanged
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
      if (&a == &b || !a.sides_shown() || !b.sides_shown() || crossed.size() == kMost ||
          !of_same_sides(a.fit.place, b.fit.place))
        continue;
      const BlankPlace& axis = a.fit.place;
      const EndsAlong ends{ends_along(axis, axis, blank).start_mm, ends_along(axis, b.fit.place, blank).end_mm};
      const double longer_mm = ends.end_mm - ends.start_mm - length_mm(blank.shape);
      if (std::abs(longer_mm) > blank.length_tolerance_mm || was_looked_at(axis, ends)) continue;
      Candidate candidate;
      candidate.place = axis;
      const Vector2d along = axis.along();
      candidate.place.centre_mm += 0.5 * (ends.start_mm + ends.end_mm) * along;
      candidate.place.length_mm = longer_mm;
      candidate.left = candidate.right = a.support;
      candidate.start = candidate.end = std::min(a.ends_support, b.ends_support);
      crossed.push_back(candidate);
    }
  }
  return crossed;
}

// A blank of the declared size that shares a side, or its middle, with another outline: of a highlight, a groove, a
// shadow.
std::vector<Candidate> sharing_a_side(const Candidate& other) {
  std::vector<Candidate> shared;
  const Vector2d across = other.place.across();
  for (const double side : {0.0, 1.0, -1.0}) {
    Candidate candidate = other;
    candidate.place.centre_mm += 0.5 * side * other.place.girth_mm * across;
    candidate.place.girth_mm = 0.0;
    shared.push_back(candidate);
  }
  return shared;
}

// Whether a reading came out where an earlier one did: from another start, on the same edges.
bool was_read(const Reading& reading, const std::vector<Reading>& earlier, const Blank& blank) {
  constexpr double kSame_mm = 0.02;  // of either end: the same reading found from another start
  const BlankPlace& here = reading.fit.place;
  const double half_mm = 0.5 * length_mm(blank.shape);
  return std::any_of(earlier.begin(), earlier.end(), [&](const Reading& other) {
    const BlankPlace& there = other.fit.place;
    return (here.centre_mm - there.centre_mm).norm() < kSame_mm &&
           std::abs(std::remainder(here.heading_rad - there.heading_rad, 2.0 * kPi)) * half_mm < kSame_mm &&
           std::abs(here.length_mm - there.length_mm) < kSame_mm && std::abs(here.girth_mm - there.girth_mm) < kSame_mm;
  });
}

// How well the coarse search saw the candidate that a reading came from.
double seen_at_first(const Reading& reading) {
  Candidate candidate;
  candidate.left = candidate.right = reading.support;
  candidate.start = candidate.end = reading.ends_support;
  return candidate.whole_outline();
}

void sort_by_evidence(std::vector<Reading>& readings) {
  std::stable_sort(readings.begin(), readings.end(),
                   [](const Reading& a, const Reading& b) { return a.weight_of_evidence() > b.weight_of_evidence(); });
}

}  // namespace

bool near_declared_length(const Blank& blank, double extra_mm) {
  return std::abs(extra_mm) <= blank.length_tolerance_mm + kEndForm_mm;
}

bool Reading::shown(OutlinePart part) const {
  if (!is_shown(evidence[static_cast<std::size_t>(part)])) return false;
  return !(part == OutlinePart::start && end_denied[0]) && !(part == OutlinePart::end && end_denied[1]);
}

int Reading::parts_shown() const {
  int count = 0;
  for (const OutlinePart part : kAllOutlineParts) count += shown(part) ? 1 : 0;
  return count;
}

double Reading::log_ratio() const {
  double sum = 0.0;
  int stretches = 0;
  for (const PartEvidence& part : evidence) {
    sum += part.log_ratio;
    stretches += part.stretches;
  }
  return sum * std::min(1.0, static_cast<double>(kIndependentStretches * kOutlineParts) / std::max(stretches, 1));
}

double Reading::weight_of_evidence() const {
  return log_ratio() + std::clamp(two_materials / kOutlineParts, -kSurfacesSay, kSurfacesSay);
}

GirthLimits girth_limits(const Reading& reading, const Blank& blank) {
  const double tolerance_mm = blank.diameter_tolerance_mm;
  if (!is_flat(blank.shape)) {
    const double limit_mm = tolerance_mm + std::clamp(2.5 * reading.fit.girth_free_sigma_mm, 0.25, 0.35);
    return {limit_mm, limit_mm};
  }
  // A flat blank's sides are no limbs but edges as its ends are: two of them, each rounded or chamfered in its own way.
  // A disc's rim is so alike all round, and what is seen of it lies inside.
  const double two_edges_mm = std::sqrt(2.0) * kEndForm_mm;
  const bool disc = std::holds_alternative<DiscBlank>(blank.shape);
  return {tolerance_mm + (disc ? 2.0 * kEndForm_mm : two_edges_mm), tolerance_mm + two_edges_mm};
}

bool is_of_declared_girth(const Reading& reading, const Blank& blank) {
  const GirthLimits limits = girth_limits(reading, blank);
  return reading.fit.girth_free_mm >= -limits.below_mm && reading.fit.girth_free_mm <= limits.above_mm;
}

bool is_of_declared_size(const Reading& reading, const Blank& blank) {
  return is_of_declared_girth(reading, blank) && near_declared_length(blank, reading.fit.place.length_mm);
}

Readings read_slot(const View& view, const CoarseFinding& coarse, const EdgeClutter& clutter) {
  const Blank& blank = view.blank;
  Readings readings;
  readings.in_picture = coarse.in_picture;
  // A ring on a disc's face and the edge of its shadow are as far apart as its rim is, beside it: only in plain view is
  // one disc not another.
  const double least_certain = view.is_disc() ? kPlainLogRatio : 0.0;
  const auto certain = [&] {
    return std::any_of(readings.declared.begin(), readings.declared.end(), [&](const Reading& reading) {
      return reading.parts_shown() == kOutlineParts && is_of_declared_size(reading, blank) &&
             reading.two_materials > 0.0 && reading.log_ratio() >= least_certain;
    });
  };
  const auto measure = [&](const Candidate& candidate, bool declared, std::vector<Reading>& list) {
    if (candidate.sides() < kLookedAtSupport) return;
    const std::vector<Candidate> starts = declared ? with_other_lengths(candidate, blank) : std::vector{candidate};
    for (const Candidate& start : starts) {
      // Beside a certain reading nothing is measured twice; but a flat blank's wall is a second edge so near that a fit
      // which passes a place may yet leave it.
      const bool known = !is_flat(blank.shape) && certain();
      auto reading =
          closely(view, clutter, start, declared, known ? std::span<const Reading>(list) : std::span<const Reading>());
      if (!reading) continue;
      const bool no_sides = !reading->sides_shown();
      if (!was_read(*reading, list, blank)) list.push_back(std::move(*reading));
      if (no_sides) break;  // what its ends may be besides does not matter
    }
  };
  for (const Candidate& candidate : coarse.candidates) {
    measure(candidate, true, readings.declared);
    if (certain()) break;
  }
  for (const Candidate& candidate : with_ends_crossed(readings.declared, blank))
    measure(candidate, true, readings.declared);
  for (std::size_t i = 0; i < std::min(kSharedWith, coarse.other_sizes.size()) && !certain(); ++i)
    for (const Candidate& candidate : sharing_a_side(coarse.other_sizes[i]))
      measure(candidate, true, readings.declared);
  sort_by_evidence(readings.declared);
  const double least = certain() ? kAsWell * seen_at_first(readings.declared.front()) : 0.0;
  for (const Candidate& candidate : coarse.other_sizes)
    if (candidate.whole_outline() >= least) measure(candidate, false, readings.other_sizes);
  // What measures as the declared size after all is measured as that; and counts as it stands, where that leads
  // elsewhere.
  for (const Reading& other : readings.other_sizes) {
    if (!is_of_declared_girth(other, blank)) continue;
    Candidate again;
    again.place = other.fit.place;
    again.left = again.right = other.support;
    again.start = again.end = other.ends_support;
    measure(again, true, readings.declared);
    if (is_of_declared_size(other, blank) && !was_read(other, readings.declared, blank)) {
      readings.declared.push_back(other);
      readings.declared.back().declared_size = true;
    }
  }
  sort_by_evidence(readings.declared);
  sort_by_evidence(readings.other_sizes);
  return readings;
}

}  // namespace jigtrue
