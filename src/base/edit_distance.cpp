#include "jigtrue/base/edit_distance.hpp"

#include <algorithm>

namespace jigtrue {

std::size_t edit_distance(const std::string& a, const std::string& b) {
  // Names longer than any field are as far as can be; this also bounds the work on a hostile file.
  constexpr std::size_t kLongest = 64;
  if (a.size() > kLongest || b.size() > kLongest) return std::max(a.size(), b.size());
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) {
    for (std::size_t j = 0; j <= b.size(); ++j) {
      if (i == 0 || j == 0) {
        d[i][j] = i + j;
        continue;
      }
      const std::size_t change = a[i - 1] == b[j - 1] ? 0 : 1;
      d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + change});
      const bool swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
      if (swapped) d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
    }
  }
  return d[a.size()][b.size()];
}

namespace {

// The one known name that this begins, or that begins this.
std::optional<std::string> only_abbreviation(const std::string& unknown, const std::vector<std::string>& known) {
  constexpr std::size_t kShortest = 3;  // letters: fewer begin many names
  std::optional<std::string> only;
  for (const std::string& name : known) {
    if (std::min(name.size(), unknown.size()) < kShortest) continue;
    if (!name.starts_with(unknown) && !unknown.starts_with(name)) continue;
    if (only) return std::nullopt;
    only = name;
  }
  return only;
}

}  // namespace

std::optional<std::string> nearest_name(const std::string& unknown, const std::vector<std::string>& known) {
  std::optional<std::string> best;
  std::size_t best_distance = std::max<std::size_t>(unknown.size() / 3, 1) + 1;
  for (const std::string& name : known) {
    const std::size_t distance = edit_distance(unknown, name);
    if (distance >= best_distance) continue;
    best_distance = distance;
    best = name;
  }
  return best ? best : only_abbreviation(unknown, known);
}

}  // namespace jigtrue
