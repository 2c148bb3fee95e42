// The middle value.
#pragma once
#include <optional>
#include <vector>

namespace jigtrue {

// Of an even number the upper one of the middle two; nothing of none.
[[nodiscard]] std::optional<double> median(std::vector<double> values);

}  // namespace jigtrue
