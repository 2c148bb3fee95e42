// What several parts of the bench's page say alike.
#pragma once
#include "jigtrue/bench/book.hpp"
#include "jigtrue/report/standing_style.hpp"

#include <cstdint>
#include <string>

namespace jigtrue::bench {

[[nodiscard]] std::string number(std::int64_t value);
[[nodiscard]] std::string duration_words(double seconds);  // whole minutes, rounded up
[[nodiscard]] std::string left_words(const Batch& batch);

// Null where no standing has this class.
[[nodiscard]] const StandingStyle* style_called(const std::string& css_class);

// Slots of the load that are laid out.
[[nodiscard]] int placed_count(const BookLoad& load);

// What begins a page.
[[nodiscard]] std::string head_of(const std::string& title);

}  // namespace jigtrue::bench
