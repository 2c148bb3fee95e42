#include "support/patterns.hpp"

#include <regex>

namespace jigtrue::test {

std::vector<Match> all_matches(const std::string& text, const std::string& pattern) {
  const std::regex regex(pattern);
  std::vector<Match> matches;
  for (std::sregex_iterator it(text.begin(), text.end(), regex), end; it != end; ++it)
    matches.emplace_back(it->begin(), it->end());
  return matches;
}

Match first_match(const std::string& text, const std::string& pattern) {
  std::smatch match;
  if (!std::regex_search(text, match, std::regex(pattern))) return {};
  return {match.begin(), match.end()};
}

std::string with_replaced(const std::string& text, const std::string& pattern, const std::string& by) {
  return std::regex_replace(text, std::regex(pattern), by);
}

}  // namespace jigtrue::test
