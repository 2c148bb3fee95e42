#include "jigtrue/detection/readings.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

constexpr double kLengthDoubtMm = 0.6;
constexpr double kSideShare = 0.5;  // of a side's stretches that must agree
constexpr double kEndShare = 0.5;
constexpr double kEndGain = 3.0;           // ends are short: texture mimics one more easily than a side
constexpr double kSideGain = 2.0;          // median gain of a side's used stretches
constexpr double kLookedAtSupport = 0.25;  // candidates with less are not measured closely
constexpr double kClearSupport = 0.45;     // of a blank that is taken for found
// Logarithms of the gain, averaged over all stretches: noise and texture give 0.5 to 1.
constexpr double kLeastEvidence = 1.3;
constexpr double kPlainEvidence = 1.9;
constexpr double kSharpShare = 0.66;
constexpr double kSharpGain = 3.0;
constexpr double kSharpScatterPx = 1.1;
constexpr double kOtherSupport = 0.5;
constexpr double kOtherGirthShare = 0.1;
constexpr double kSideScatterPx = 1.6;  // stretches of one side must agree to about this
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
  int stretches = 0;
  int edges = 0;
  for (const OutlinePart part : {OutlinePart::left, OutlinePart::right}) {
    for (const double sign : {-1.0, 1.0}) {
      const auto position = edge_beside(photo, camera, longer, seat, place, part, sign * (half + kBeyondFromMm),
                                        sign * (half + kBeyondToMm), blur, models);
      if (!position) continue;
      ++stretches;
      if (position->gain > 3.0 && std::abs(position->position_px) < 1.0) ++edges;
    }
  }
  return stretches > 0 ? static_cast<double>(edges) / stretches : 0.0;
}

bool near_declared_length(const Blank& blank, double extra_mm) {
  return std::abs(extra_mm) <= blank.length_tolerance_mm + kLengthDoubtMm;
}

std::optional<Reading> closely(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                               const Candidate& candidate, bool declared, const PictureBlur& blur,
                               EdgeModelStore& models) {
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
  auto fit = fit_outline(photo, camera, blank, seat, start, options, models);
  if (!fit) return std::nullopt;
  Reading reading;
  reading.declared_size = declared;
  reading.support = candidate.sides();
  reading.girth_free_mm = fit->girth_free_mm;
  reading.girth_sigma_mm = fit->girth_free_sigma_mm;
  reading.runs_on = runs_on(photo, camera, blank, seat, fit->place, blur, models);
  reading.fit = std::move(*fit);
  return reading;
}

// Clear readings first, then by how much of the picture speaks for them.
void sort_readings(std::vector<Reading>& readings, const Blank& blank) {
  std::stable_sort(readings.begin(), readings.end(), [&](const Reading& a, const Reading& b) {
    const bool clear_a = is_clear(a, blank);
    const bool clear_b = is_clear(b, blank);
    return clear_a != clear_b ? clear_a : a.fit.evidence > b.fit.evidence;
  });
}

}  // namespace

namespace {

bool sharp(const PartQuality& part) {
  return part.used >= 2 && part.share() >= kSharpShare && part.gain >= kSharpGain && part.scatter_px <= kSharpScatterPx;
}

bool sharp_all_round(const Reading& reading) {
  return sharp(reading.fit.part(OutlinePart::left)) && sharp(reading.fit.part(OutlinePart::right)) &&
         sharp(reading.fit.part(OutlinePart::start)) && sharp(reading.fit.part(OutlinePart::end));
}

}  // namespace

bool Reading::side_seen(OutlinePart part) const {
  const PartQuality& quality = fit.part(part);
  return quality.used >= 3 && quality.share() >= kSideShare && quality.gain >= kSideGain &&
         quality.scatter_px <= kSideScatterPx;
}

bool end_is_seen(const PartQuality& end) {
  return end.used >= 2 && end.share() >= kEndShare && end.gain >= kEndGain && end.scatter_px <= kSideScatterPx;
}

bool Reading::end_seen(OutlinePart part) const { return end_is_seen(fit.part(part)); }

double girth_limit_mm(const Reading& reading, const Blank& blank) {
  return blank.diameter_tolerance_mm + std::clamp(2.5 * reading.girth_sigma_mm, 0.25, 0.35);
}

bool is_clear(const Reading& reading, const Blank& blank) {
  if (!reading.declared_size || !reading.sides_seen() || reading.support < kClearSupport) return false;
  if (std::abs(reading.girth_free_mm) > girth_limit_mm(reading, blank)) return false;
  // another length is believed only when both ends say so
  if (!near_declared_length(blank, reading.fit.place.length_mm) && !reading.both_ends_seen()) return false;
  // An end may go unseen (a slim tip, a deep shadow) where the rest speaks plainly.
  const bool ends =
      reading.both_ends_seen() || (reading.an_end_seen() && reading.evidence_per_block() >= kPlainEvidence);
  if (!ends || reading.evidence_per_block() < kLeastEvidence) return false;
  // A pocket's walls may stand where a blank's sides would run on: not held against an outline that is sharp all round.
  return reading.runs_on < kRunsOn || (reading.runs_on <= kRunsOn && sharp_all_round(reading));
}

bool is_another_size(const Reading& reading, const Blank& blank) {
  double girth = 0.0;
  if (const auto* plate = std::get_if<PlateBlank>(&blank.shape))
    girth = plate->height_mm;
  else
    girth = largest_diameter_mm(blank.shape).value_or(0.0);
  return reading.runs_on < kRunsOn && reading.support >= kOtherSupport && sharp_all_round(reading) &&
         std::abs(reading.girth_free_mm) > std::max(girth_limit_mm(reading, blank), kOtherGirthShare * girth);
}

Readings read_slot(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                   const BlankPlace& expected, const SearchRange& range, const PictureBlur& blur,
                   EdgeModelStore& models) {
  const CoarseFinding coarse = search_slot(photo, camera, blank, seat, expected, range);
  Readings readings;
  readings.in_picture = !coarse.candidates.empty() || !coarse.other_sizes.empty();
  readings.chance = coarse.chance;
  readings.ends_support = coarse.ends_at_expected;
  for (const auto* list : {&coarse.candidates, &coarse.other_sizes})
    for (const Candidate& candidate : *list) readings.support = std::max(readings.support, candidate.sides());
  auto look = [&](const Candidate& candidate, bool declared, std::vector<Reading>& list) {
    if (candidate.sides() < kLookedAtSupport) return;
    std::vector<Candidate> starts = {candidate};
    if (declared && !near_declared_length(blank, candidate.place.length_mm)) {
      // one of the two ends may be something else: the declared length from either of them
      for (const double sign : {-1.0, 1.0}) {
        Candidate from_one_end = candidate;
        const Vector2d along(std::cos(candidate.place.heading_rad), std::sin(candidate.place.heading_rad));
        from_one_end.place.centre_mm += sign * 0.5 * candidate.place.length_mm * along;
        from_one_end.place.length_mm = 0.0;
        starts.push_back(from_one_end);
      }
    }
    for (const Candidate& start : starts)
      if (auto reading = closely(photo, camera, blank, seat, start, declared, blur, models))
        list.push_back(std::move(*reading));
  };
  for (const Candidate& candidate : coarse.candidates) {
    look(candidate, true, readings.declared);
    if (std::any_of(readings.declared.begin(), readings.declared.end(),
                    [&](const Reading& reading) { return is_clear(reading, blank); }))
      break;
  }
  sort_readings(readings.declared, blank);
  if (!readings.declared.empty() && is_clear(readings.declared.front(), blank)) return readings;
  for (const Candidate& candidate : coarse.other_sizes) look(candidate, false, readings.other_sizes);
  sort_readings(readings.other_sizes, blank);
  return readings;
}

}  // namespace jigtrue
