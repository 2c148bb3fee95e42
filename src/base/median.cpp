#include "jigtrue/base/median.hpp"

#include <algorithm>

namespace jigtrue {

std::optional<double> median(std::vector<double> values) {
  if (values.empty()) return std::nullopt;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace jigtrue
