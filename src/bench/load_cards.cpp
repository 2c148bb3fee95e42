#include "bench/load_cards.hpp"

#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cstddef>

#include "bench/markup_words.hpp"
#include <nlohmann/json.hpp>

namespace jigtrue::bench {
namespace {

std::string outcome_button(const BookLoad& load, const BookSlot& slot, const char* outcome, const char* label,
                           std::size_t place) {
  return "<button id=\"" + std::string(outcome) + "-" + std::to_string(place) + "\" data-post=\"/loads/" +
         number(load.id) + "/outcome\" data-fields=\"" +
         markup_text(nlohmann::json{{"slot", valid_utf8(slot.id)}, {"outcome", outcome}}.dump()) +
         "\" aria-pressed=\"" + (slot.outcome == outcome ? "true" : "false") + "\">" + label +
         "<span class=\"aloud\">, slot " + markup_text(slot.id) + "</span></button>";
}

constexpr const char* kCare =
    "<div class=\"care\"><p><b>Before the laser fires:</b> lid shut and interlocks whole, goggles for this wavelength "
    "where the maker asks for them, extraction on, extinguisher at hand; stay until it is done. Anything touched since "
    "the photo? Take a new one. Maker&#39;s manual, local codes and licensed practice come first.</p></div>\n";

// The blanks that lie there still are served first; loaded anew, the batch serves their pieces.
std::string another_pass_card(const BookLoad& load, const Seen& seen) {
  if (seen.again.empty()) return {};
  const std::string at = "/loads/" + number(load.id) + "/";
  std::string out =
      "<section class=\"card\" aria-labelledby=\"once-more\"><h2 id=\"once-more\">Another pass</h2>\n<p>It would mend "
      "slot " +
      markup_text(seen.again) +
      ". Touch nothing, engrave this layout, then take one more photo of what was burned.</p>\n<div "
      "class=\"acts\"><a class=\"get\" download href=\"" +
      at + "again.svg\">These alone, SVG</a> <a class=\"get\" download href=\"" + at +
      "again.dxf\">These alone, DXF</a></div>\n" + kCare;
  const bool bare =
      std::any_of(load.slots.begin(), load.slots.end(), [](const BookSlot& slot) { return slot.outcome == "pass"; });
  if (bare)
    out +=
        "<p>The pieces of bare blanks count once they are burned. Is the jig loaded anew before that, they go back to "
        "the batch.</p>\n<div class=\"acts\"><button class=\"main\" id=\"burned\" data-post=\"" +
        at +
        "burned\">Burned</button> <span class=\"quiet\">once the machine has done it: it starts nothing</span></div>\n";
  return out + "</section>\n";
}

struct SlotWords {
  std::string css_class;
  std::string text;  // markup
};

SlotWords words_of(const BookSlot& slot) {
  if (slot.outcome == "burned") return {"ready", "burned"};
  if (slot.outcome == "pass") return {"mismatch", "wants another pass"};
  if (slot.outcome == "spoiled") return {"mismatch", "spoiled"};
  if (slot.outcome == "again") return {"mismatch", "to be done again"};
  const StandingStyle* style = style_called(slot.standing);
  const bool spare = slot.standing == "ready" && !slot.ready;
  if (style == nullptr || spare) return {"empty", "left out, no piece for it"};
  return {style->css_class, std::string(style->symbol) + " " + style->word};
}

std::string burned_button(const BookLoad& load) {
  if (!load.burned.empty() || placed_count(load) == 0) return {};
  return "<div class=\"acts\"><button class=\"main\" id=\"burned\" data-post=\"/loads/" + number(load.id) +
         "/burned\">Burned</button> <span class=\"quiet\">once the machine has done it: it starts "
         "nothing</span></div>\n";
}

}  // namespace

std::string after_the_burn(const BookLoad& load, const Seen& seen, const SiteOptions& options) {
  std::string out = "<section class=\"card\" aria-labelledby=\"seen\"><h2 id=\"seen\">What was burned</h2>\n";
  if (!seen.headline.empty())
    out += "<p>" + markup_text(seen.headline) + " <a href=\"/loads/" + number(load.id) +
           "/inspection.html\">Each mark</a></p>\n";
  else
    out +=
        "<p>Before anything is taken out: a photo tells where each mark sits on its blank, and which want another "
        "pass. "
        "A spoiled one&#39;s piece goes back to the batch.</p>\n";
  out += "<div class=\"acts\"><button id=\"look\" data-pick=\"burned-photo\">Photo of what was burned</button>";
  if (options.snap)
    out +=
        " <button id=\"look-snap\" data-post=\"/loads/" + number(load.id) + "/inspection\">Camera: look at it</button>";
  return out + "</div></section>\n" + another_pass_card(load, seen);
}

std::string rack(const BookLoad& load, const Seen& seen) {
  std::string out = "<section class=\"card\" aria-labelledby=\"slots\"><h2 id=\"slots\">Slots</h2>\n<ul class=\"rack" +
                    std::string(load.burned.empty() ? "" : " over") + "\">\n";
  std::size_t place = 0;
  for (const BookSlot& slot : load.slots) {
    ++place;
    const SlotWords words = words_of(slot);
    out += "<li class=\"" + words.css_class + "\"><div class=\"slot\"><span>" + markup_text(slot.id) + "</span><span>" +
           words.text + "</span></div>\n";
    if (slot.piece)
      out += "<div class=\"piece\">" +
             (slot.text.empty() ? "<small>piece " + number(*slot.piece) + "</small>" : markup_text(slot.text)) +
             "</div>\n";
    if (const auto mark = seen.slots.find(slot.id); mark != seen.slots.end() && slot.ready)
      out += "<div class=\"quiet\">" + markup_text(mark->second) + "</div>\n";
    if (!slot.outcome.empty())
      out += "<div class=\"marks\" role=\"group\" aria-label=\"Slot " + markup_text(slot.id) + " came out\">" +
             outcome_button(load, slot, "burned", "good", place) +
             outcome_button(load, slot, "spoiled", "spoiled", place) +
             outcome_button(load, slot, "again", "again", place) + "</div>\n";
    out += "</li>\n";
  }
  return out + "</ul></section>\n";
}

std::string burning(const BookLoad& load) {
  const std::string at = "/loads/" + number(load.id) + "/";
  const bool open = load.burned.empty();
  std::string out = "<section class=\"card\" aria-labelledby=\"engrave\"><h2 id=\"engrave\">" +
                    std::string(open ? "Engrave load " : "Load ") + number(load.id) +
                    "</h2>\n<div class=\"acts\"><a class=\"get\" download href=\"" + at +
                    "layout.svg\">Layout, SVG</a> <a class=\"get\" download href=\"" + at +
                    "layout.dxf\">Layout, DXF</a> <a class=\"get\" href=\"" + at + "\">Whole report</a></div>\n";
  if (open && load.run_s) out += "<p>The machine will run for about " + duration_words(*load.run_s) + ".</p>\n";
  if (open && placed_count(load) > 0) out += kCare;
  return out + burned_button(load) + "</section>\n";
}

std::string before_the_refusal(const BookLoad& load, const Seen& seen, const SiteOptions& options) {
  if (!load.burned.empty()) return after_the_burn(load, seen, options) + rack(load, seen);
  return "<section class=\"card\" aria-labelledby=\"before\"><h2 id=\"before\">Load " + number(load.id) +
         ", before this photo</h2>\n<p>" + markup_text(load.headline) + " <a href=\"/loads/" + number(load.id) +
         "/\">Its report</a></p>\n" + burned_button(load) + "</section>\n";
}

std::string figure(const BookLoad& load, const Seen& seen) {
  const bool looked_at = !seen.headline.empty();
  const std::string at = "/loads/" + number(load.id) + "/";
  return "<figure><a href=\"" + at + (looked_at ? "inspection.html" : "") + "\"><img src=\"" + at +
         (looked_at ? "inspected.jpg" : "closeup.jpg") + "\" alt=\"The photo of load " + number(load.id) +
         (looked_at ? " after burning, each mark outlined" : " with every slot outlined") +
         "; the report says the same in words\"></a></figure>\n";
}

}  // namespace jigtrue::bench
