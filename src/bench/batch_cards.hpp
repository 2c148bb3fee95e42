// The batch and the last loads on the bench's page.
#pragma once
#include "jigtrue/bench/book.hpp"

#include <optional>
#include <string>

namespace jigtrue::bench {

[[nodiscard]] std::string batch_card(const Book& book, const std::optional<BookLoad>& load);
[[nodiscard]] std::string last_loads(const Book& book);

}  // namespace jigtrue::bench
