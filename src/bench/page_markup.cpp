#include "jigtrue/base/text.hpp"

#include "bench/batch_cards.hpp"
#include "bench/load_cards.hpp"
#include "bench/markup_words.hpp"
#include "bench/page_controls.hpp"
#include "bench/pages.hpp"
#include "bench/verdict_card.hpp"

namespace jigtrue::bench {

std::string view(const Desk& desk, const SiteOptions& options) {
  const DeskState state = desk.state();
  const Book& book = desk.book();
  const std::optional<BookLoad> load = book.last_load();
  std::string out = verdict_card(desk, state, load);
  const Seen seen = load && !load->burned.empty() ? seen_after_the_burn(book, load->id) : Seen{};
  if (state.refusal) {
    if (!state.refusal->picture.empty())
      out += "<figure><img src=\"/moved.jpg?" + number(static_cast<std::int64_t>(state.version)) +
             "\" alt=\"Where the bed&#39;s marks were expected and where they are\"></figure>\n";
    if (load) out += before_the_refusal(*load, seen, options);
  } else if (load && !load->burned.empty()) {
    out += after_the_burn(*load, seen, options) + rack(*load, seen) + figure(*load, seen) + burning(*load);
  } else if (load) {
    out += cautions_first(state) + to_do(*load) + figure(*load) + rack(*load) + burning(*load) + remarks(state);
  }
  out += batch_card(book, load);
  if (!state.camera.empty())
    out += "<section class=\"card\" aria-labelledby=\"camera\"><h2 id=\"camera\">Camera</h2><p>" +
           markup_text(state.camera) + ".</p></section>\n";
  return out + last_loads(book);
}

std::string page(const Desk& desk, const SiteOptions& options) {
  return head_of("Bench") +
         "<script src=\"/bench.js\" defer></script>\n</head>\n<body>\n<a class=\"skip\" href=\"#view\">To the "
         "load</a>\n"
         "<header class=\"top\"><b>jigtrue bench</b> <span id=\"link\" role=\"status\">connecting</span></header>\n<p "
         "id=\"say\" class=\"aloud\" role=\"status\" aria-live=\"polite\"></p>\n<div id=\"count\" aria-hidden=\"true\" "
         "hidden></div>\n<div class=\"bench\">\n<main id=\"view\" tabindex=\"-1\">\n" +
         view(desk, options) + "</main>\n" + controls(desk, options) + "</div>\n</body>\n</html>\n";
}

}  // namespace jigtrue::bench
