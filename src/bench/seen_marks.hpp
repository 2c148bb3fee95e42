// What was seen after the burn.
#pragma once
#include "jigtrue/bench/book.hpp"

#include <cstdint>
#include <map>
#include <string>

namespace jigtrue::bench {

// What an inspection says of each slot, for people; empty where there was none.
struct Seen {
  std::string headline;
  std::string again;  // the slots that want another pass, "2, 5"
  std::map<std::string, std::string> slots;
};
[[nodiscard]] Seen seen_after_the_burn(const Book& book, std::int64_t load);

}  // namespace jigtrue::bench
