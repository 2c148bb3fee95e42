// Checks that every page must pass.
#pragma once
#include <string>

namespace jigtrue::test {

[[nodiscard]] std::size_t occurrences(const std::string& text, const std::string& what);

// Every tag that opens is closed in order: names and quotes that broke out of their place would upset it.
void expect_balanced(const std::string& html);

}  // namespace jigtrue::test
