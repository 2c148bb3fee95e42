// Regular expressions (ECMAScript's) for tests. Behind functions, as <regex> takes seconds of each source that reads
// it.
#pragma once
#include <string>
#include <vector>

namespace jigtrue::test {

// The whole match, then its groups; a group that took no part is empty.
using Match = std::vector<std::string>;

// Every match in `text`, in order.
[[nodiscard]] std::vector<Match> all_matches(const std::string& text, const std::string& pattern);

// The first match in `text`; empty if there is none.
[[nodiscard]] Match first_match(const std::string& text, const std::string& pattern);

// `text` with every match replaced.
[[nodiscard]] std::string with_replaced(const std::string& text, const std::string& pattern, const std::string& by);

}  // namespace jigtrue::test
