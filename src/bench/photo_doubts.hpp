// What speaks against a photo though it can be judged.
#pragma once
#include "jigtrue/bench/book.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// That it is not of what lies there now, by its own clock, which shows local time. Nothing where either time cannot be
// read.
[[nodiscard]] std::optional<std::string> stale_photo(const std::string& taken, const std::string& now_utc);

// Whether two photos may be of one load, however either was saved.
[[nodiscard]] bool lie_alike(const std::vector<BookSlot>& a, const std::vector<BookSlot>& b);

}  // namespace jigtrue
