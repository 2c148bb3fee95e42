// What speaks against a photo though it can be judged.
#pragma once
#include "jigtrue/bench/book.hpp"
#include "jigtrue/image/exif_facts.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// That it is not of what lies there now, by its own clock, which shows local time. Nothing where either time cannot be
// read.
[[nodiscard]] std::optional<std::string> stale_photo(const std::string& taken, const std::string& now_utc);

// What the photo's zoom and focal length say against the lens, whose file says neither. `first_mm`: the focal length of
// the bench's photos so far.
[[nodiscard]] std::vector<std::string> focal_doubts(const ExifFacts& facts, const std::optional<double>& first_mm);

// That the blanks lie as they lay in the last load that was burned: perhaps nobody loaded anew.
[[nodiscard]] std::optional<std::string> lies_as_burned(const Book& book, const BookLoad& load);

// Whether two photos may be of one load, however either was saved.
[[nodiscard]] bool lie_alike(const std::vector<BookSlot>& a, const std::vector<BookSlot>& b);

}  // namespace jigtrue
