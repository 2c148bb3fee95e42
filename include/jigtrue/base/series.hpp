// Statistics of values that come one after another, and of a few.
#pragma once
#include <cstddef>
#include <optional>
#include <vector>

namespace jigtrue {

// Mean and spread of a series, with the limits of a chart for single values: mean +/- 2.66 times the mean moving range
// (Shewhart's individuals chart; 2.66 = 3 / 1.128, from memory of the textbooks). Limits from eight values on.
struct Series {
  std::vector<std::size_t> at;  // where each value stands among all that could be there
  std::vector<double> values;
  double mean = 0.0;
  double spread = 0.0;  // standard deviation; 0 with one value
  std::optional<double> low, high;
  [[nodiscard]] bool last_is_out() const;
};
[[nodiscard]] Series series_of(const std::vector<std::size_t>& at, const std::vector<double>& values);

// Two-sided 95 % of Student's t, within 1 %: Cornish and Fisher's expansion about the normal point (Abramowitz & Stegun
// 26.7.5); for one to three degrees of freedom, where that falls short, the table (NIST/SEMATECH
// e-Handbook, 1.3.6.7.2).
[[nodiscard]] double students_t(double freedom);

}  // namespace jigtrue
