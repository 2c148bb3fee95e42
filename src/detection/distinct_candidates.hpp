// Which of many candidates are kept.
#pragma once
#include "jigtrue/detection/coarse_search.hpp"

#include <cstddef>
#include <vector>

namespace jigtrue {

inline constexpr std::size_t kDeclaredKept = 8;  // that may be looked at closely
inline constexpr std::size_t kOthersKept = 8;    // of other sizes

// By how much two candidates must differ in any of these.
struct Apart {
  double across_mm = 0.0;  // and twice that in girth
  double turn_rad = 0.0;
};
[[nodiscard]] bool is_distinct(const Candidate& candidate, const std::vector<Candidate>& others, const Apart& apart);

// The `count` best by their sides, no two alike.
[[nodiscard]] std::vector<Candidate> distinct_candidates(std::vector<Candidate> candidates, std::size_t count,
                                                         const Apart& apart);

}  // namespace jigtrue
