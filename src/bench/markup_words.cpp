#include "bench/markup_words.hpp"

#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue::bench {

std::string number(std::int64_t value) { return std::to_string(value); }

std::string duration_words(double seconds) {
  const auto minutes = static_cast<std::int64_t>(std::ceil(seconds / 60.0));
  if (minutes < 90) return number(minutes) + " min";
  return number(minutes / 60) + " h " + number(minutes % 60) + " min";
}

std::string left_words(const Batch& batch) {
  return batch.left() == 0 ? "all " + number(batch.pieces) + " done"
                           : number(batch.left()) + " of " + number(batch.pieces) + " left";
}

const StandingStyle* style_called(const std::string& css_class) {
  const auto& all = standing_styles();
  const auto found =
      std::find_if(all.begin(), all.end(), [&](const StandingStyle& s) { return css_class == s.css_class; });
  return found == all.end() ? nullptr : &*found;
}

int placed_count(const BookLoad& load) {
  return static_cast<int>(
      std::count_if(load.slots.begin(), load.slots.end(), [](const BookSlot& s) { return s.ready; }));
}

std::string head_of(const std::string& title) {
  return "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
         "content=\"width=device-width, initial-scale=1\">\n<title>" +
         markup_text(title) +
         "</title>\n<link rel=\"stylesheet\" href=\"/bench.css\">\n<link rel=\"icon\" "
         "href=\"/icon.svg\">\n";
}

}  // namespace jigtrue::bench
