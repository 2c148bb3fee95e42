// What the last photo says, at the top of the bench's page.
#pragma once
#include "jigtrue/bench/desk.hpp"

#include <optional>
#include <string>

namespace jigtrue::bench {

// Whether the load may be engraved, and what comes next; read aloud, too.
[[nodiscard]] std::string verdict_card(const Desk& desk, const DeskState& state, const std::optional<BookLoad>& load);

[[nodiscard]] std::string to_do(const BookLoad& load);
[[nodiscard]] std::string cautions_first(const DeskState& state);
[[nodiscard]] std::string remarks(const DeskState& state);

}  // namespace jigtrue::bench
