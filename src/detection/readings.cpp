#include "jigtrue/detection/readings.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

constexpr double kLengthDoubtMm = 0.6;
constexpr double kSideShare = 0.5;  // of a side's stretches that must agree
constexpr double kEndShare = 0.5;
constexpr double kSideGain = 2.0;          // median gain of a side's used stretches
constexpr double kLookedAtSupport = 0.25;  // candidates with less are not measured closely
constexpr double kClearSupport = 0.45;     // of a blank that is taken for found
constexpr double kSideScatterPx = 1.6;     // stretches of one side must agree to about this
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
  const bool declared_length = std::abs(start.length_mm) <= blank.length_tolerance_mm + kLengthDoubtMm;
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

bool Reading::side_seen(OutlinePart part) const {
  const PartQuality& quality = fit.part(part);
  return quality.used >= 3 && quality.share() >= kSideShare && quality.gain >= kSideGain &&
         quality.scatter_px <= kSideScatterPx;
}

bool Reading::end_seen(OutlinePart part) const {
  const PartQuality& quality = fit.part(part);
  return quality.used >= 2 && quality.share() >= kEndShare && quality.gain >= kSideGain &&
         quality.scatter_px <= kSideScatterPx;
}

double girth_limit_mm(const Reading& reading, const Blank& blank) {
  return blank.diameter_tolerance_mm + std::max(3.0 * reading.girth_sigma_mm, 0.25);
}

bool is_clear(const Reading& reading, const Blank& blank) {
  return reading.declared_size && reading.sides_seen() && reading.an_end_seen() && reading.runs_on < kRunsOn &&
         reading.support >= kClearSupport && std::abs(reading.girth_free_mm) <= girth_limit_mm(reading, blank);
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
    if (auto reading = closely(photo, camera, blank, seat, candidate, declared, blur, models))
      list.push_back(std::move(*reading));
  };
  for (const Candidate& candidate : coarse.candidates) {
    look(candidate, true, readings.declared);
    if (!readings.declared.empty() && is_clear(readings.declared.back(), blank)) break;
  }
  sort_readings(readings.declared, blank);
  if (!readings.declared.empty() && is_clear(readings.declared.front(), blank)) return readings;
  for (const Candidate& candidate : coarse.other_sizes) look(candidate, false, readings.other_sizes);
  sort_readings(readings.other_sizes, blank);
  return readings;
}

}  // namespace jigtrue
