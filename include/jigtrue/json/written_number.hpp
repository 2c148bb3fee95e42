// A number as result files hold it.
#pragma once
#include <cmath>
#include <stdexcept>

namespace jigtrue {

// Rounded to so many decimals, and no -0. Throws std::logic_error where it is not finite: no file may hold that.
[[nodiscard]] inline double written_number(double value, int decimals = 4) {
  if (!std::isfinite(value)) throw std::logic_error("a number to be written is not finite");
  const double scale = std::pow(10.0, decimals);
  return std::round(value * scale) / scale + 0.0;
}

}  // namespace jigtrue
