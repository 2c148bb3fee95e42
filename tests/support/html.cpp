#include "support/html.hpp"

#include <cctype>
#include <regex>
#include <set>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue::test {

std::size_t occurrences(const std::string& text, const std::string& what) {
  std::size_t n = 0;
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + what.size())) ++n;
  return n;
}

void expect_balanced(const std::string& html) {
  static const std::set<std::string> kVoid = {"meta", "input", "br", "img", "!doctype"};
  static const std::regex tag(R"re(<(/?)([!a-zA-Z0-9]+)((?:[^"'<>]|"[^"]*")*?)(/?)>)re");
  const std::size_t style_from = html.find("<style>") + 7;
  const std::size_t style_to = html.find("</style>");
  const std::string text = html.substr(0, style_from) + html.substr(style_to);
  std::vector<std::string> open;
  std::size_t end_of_last = 0;
  for (std::sregex_iterator it(text.begin(), text.end(), tag), end; it != end; ++it) {
    const std::string between = text.substr(end_of_last, static_cast<std::size_t>(it->position()) - end_of_last);
    ASSERT_EQ(between.find('<'), std::string::npos) << between;
    end_of_last = static_cast<std::size_t>(it->position() + it->length());
    std::string name = (*it)[2];
    for (char& c : name) c = static_cast<char>(std::tolower(c));
    if (kVoid.count(name) != 0 || (*it)[4].length() != 0) continue;
    if ((*it)[1].length() == 0) {
      open.push_back(name);
    } else {
      ASSERT_FALSE(open.empty()) << name;
      ASSERT_EQ(open.back(), name);
      open.pop_back();
    }
  }
  EXPECT_TRUE(open.empty());
}

}  // namespace jigtrue::test
