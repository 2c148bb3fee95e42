#include "cli/numbers.hpp"

#include "jigtrue/base/error.hpp"

#include <charconv>
#include <cmath>

namespace jigtrue::cli {

std::vector<double> numbers(const std::string& option, const std::string& text, std::size_t count,
                            const std::string& form) {
  std::vector<double> values;
  const char* at = text.data();
  const char* end = at + text.size();
  bool good = true;
  while (good) {
    if (at < end && *at == '+') ++at;
    double value = 0.0;
    const auto [rest, code] = std::from_chars(at, end, value);
    good = code == std::errc() && std::isfinite(value) && std::abs(value) < 1e7;
    if (!good) break;
    values.push_back(value);
    at = rest;
    if (at == end) break;
    good = *at == ',';
    ++at;
  }
  if (!good || values.size() != count)
    throw input_error(option, "\"" + text + "\" is not " + form,
                      "write it like " + form + ", without spaces, with decimal points: 12.5");
  return values;
}

}  // namespace jigtrue::cli
