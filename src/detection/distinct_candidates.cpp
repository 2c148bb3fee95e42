#include "detection/distinct_candidates.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {

bool is_distinct(const Candidate& candidate, const std::vector<Candidate>& others, const Apart& apart) {
  return std::none_of(others.begin(), others.end(), [&](const Candidate& other) {
    return (candidate.place.centre_mm - other.place.centre_mm).norm() < apart.across_mm &&
           std::abs(candidate.place.heading_rad - other.place.heading_rad) < apart.turn_rad &&
           std::abs(candidate.place.girth_mm - other.place.girth_mm) < 2.0 * apart.across_mm;
  });
}

std::vector<Candidate> distinct_candidates(std::vector<Candidate> candidates, std::size_t count, const Apart& apart) {
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Candidate& a, const Candidate& b) { return a.sides() > b.sides(); });
  std::vector<Candidate> kept;
  for (const Candidate& candidate : candidates) {
    if (kept.size() == count) break;
    if (is_distinct(candidate, kept, apart)) kept.push_back(candidate);
  }
  return kept;
}

}  // namespace jigtrue
