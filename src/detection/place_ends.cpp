#include "detection/place_ends.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "detection/edge_field.hpp"

namespace jigtrue {
namespace {

using Ends = Candidate::OtherEnds;

// The best pairs but the chosen one, distinct from it and from each other.
std::vector<Ends> distinct_pairs(std::vector<std::pair<double, Ends>> pairs, const Ends& chosen) {
  std::stable_sort(pairs.begin(), pairs.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  constexpr std::size_t kMost = 2;     // a wall beside either end: more than that no slot has
  constexpr double kAnother_mm = 0.5;  // less is the same pair, a step of the search off
  std::vector<Ends> kept;
  const auto near = [](const Ends& a, const Ends& b) {
    return std::abs(a.along_mm - b.along_mm) + 0.5 * std::abs(a.length_mm - b.length_mm) < kAnother_mm;
  };
  for (const auto& scored : pairs) {
    const Ends& pair = scored.second;
    if (kept.size() == kMost) break;
    if (near(pair, chosen) ||
        std::any_of(kept.begin(), kept.end(), [&](const auto& other) { return near(pair, other); }))
      continue;
    kept.push_back(pair);
  }
  return kept;
}

// Each pair of edges that may be a blank's ends, support of both and the place that it gives.
struct PairsOfEnds {
  Ends best;                                   // by support and declared length
  Ends other;                                  // of another length than declared, with most support
  std::vector<std::pair<double, Ends>> alike;  // about as far apart as declared, with their scores
};

PairsOfEnds pairs_of_ends(const std::vector<double>& start, const std::vector<double>& end, const TrialValues& values,
                          double declared_mm) {
  constexpr double kLikeEnds = 0.6;  // of the best pair's score, for another pair to be kept
  PairsOfEnds pairs;
  double best = -1.0;
  for (int i = 0; i < values.n; ++i) {
    for (int j = 0; j < values.n; ++j) {
      const Ends pair{0.5 * (values.value(i) + values.value(j)), values.value(j) - values.value(i),
                      start[static_cast<std::size_t>(i)], end[static_cast<std::size_t>(j)]};
      const double both = pair.start * pair.end;
      const double excess = std::abs(pair.length_mm) / declared_mm;
      if (excess > 2.0 && both > pairs.other.start * pairs.other.end) pairs.other = pair;
      const double score = std::sqrt(both) / (1.0 + excess * excess);
      if (excess <= 1.0 && is_peak(start, i) && is_peak(end, j)) pairs.alike.emplace_back(score, pair);
      if (score > best) {
        best = score;
        pairs.best = pair;
      }
    }
  }
  std::erase_if(pairs.alike, [&](const auto& pair) { return pair.first < kLikeEnds * best; });
  return pairs;
}

}  // namespace

Candidate with_ends(const SearchPicture& picture, const Camera& camera, const Blank& blank, const Seat& seat,
                    const SearchRange& range, Candidate candidate) {
  constexpr double kAsWell = 0.9;  // of the best length's support: then the declared one is as likely
  OutlineOptions options;
  options.spacing_px = 1.5 * picture.shrink;
  options.extent = OutlineExtent::ends;
  const auto samples = picture.in_picture(outline_samples(camera, blank, seat, candidate.place, options));
  const double px_per_mm =
      std::max(mean_abs(samples, OutlinePart::start, kAlong), mean_abs(samples, OutlinePart::end, kAlong));
  if (samples.size() < 6 || !(px_per_mm > 0.0)) return candidate;
  const EdgeField field = edge_field(picture.photo, samples, range.along_mm * px_per_mm + 2.0);
  const TrialValues along = trial_values(range.along_mm, 0.7 / px_per_mm);
  PairsOfEnds pairs = pairs_of_ends(support_along(field, samples, OutlinePart::start, kAlong, along, kAcross, 0.0),
                                    support_along(field, samples, OutlinePart::end, kAlong, along, kAcross, 0.0), along,
                                    blank.length_tolerance_mm + 0.6);
  candidate.start = pairs.best.start;
  candidate.end = pairs.best.end;
  candidate.like_ends = distinct_pairs(std::move(pairs.alike), pairs.best);
  for (Ends& pair : candidate.like_ends) pair.along_mm -= pairs.best.along_mm;
  pairs.other.along_mm -= pairs.best.along_mm;
  if (std::sqrt(pairs.other.start * pairs.other.end) > kAsWell * candidate.ends()) candidate.other_ends = pairs.other;
  candidate.place.centre_mm += pairs.best.along_mm * candidate.place.along();
  candidate.place.length_mm = pairs.best.length_mm;
  return candidate;
}

}  // namespace jigtrue
