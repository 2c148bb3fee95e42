#include "jigtrue/base/series.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestForLimits = 8;  // with fewer the limits are hardly known: common practice, no source

}  // namespace

bool Series::last_is_out() const { return low && !values.empty() && (values.back() < *low || values.back() > *high); }

Series series_of(const std::vector<std::size_t>& at, const std::vector<double>& values) {
  Series series;
  series.at = at;
  series.values = values;
  if (values.empty()) return series;
  const double n = static_cast<double>(values.size());
  for (const double v : values) series.mean += v / n;
  if (values.size() < 2) return series;
  double squares = 0.0;
  double ranges = 0.0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    squares += (values[i] - series.mean) * (values[i] - series.mean);
    if (i > 0) ranges += std::abs(values[i] - values[i - 1]);
  }
  series.spread = std::sqrt(squares / (n - 1.0));
  if (values.size() >= kFewestForLimits) {
    const double reach = 2.66 * ranges / (n - 1.0);
    series.low = series.mean - reach;
    series.high = series.mean + reach;
  }
  return series;
}

double students_t(double freedom) {
  constexpr std::array kFewest{12.706, 4.303, 3.182};  // of 1, 2, 3
  if (freedom < 3.5) return kFewest[static_cast<std::size_t>(std::clamp(std::lround(freedom) - 1, 0L, 2L))];
  return 1.960 + 2.372 / freedom + 2.823 / (freedom * freedom) + 2.556 / std::pow(freedom, 3.0);
}

}  // namespace jigtrue
