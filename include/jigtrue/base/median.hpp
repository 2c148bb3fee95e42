// The middle value.
#pragma once
#include <optional>
#include <vector>

namespace jigtrue {

// Of an even number the upper one of the middle two; nothing of none.
[[nodiscard]] std::optional<double> median(std::vector<double> values);

// Standard deviation over the median absolute deviation, of a normal distribution (Rousseeuw & Croux, J. Am. Stat.
// Assoc. 88, 1993).
inline constexpr double kSigmaOfMad = 1.4826;

}  // namespace jigtrue
