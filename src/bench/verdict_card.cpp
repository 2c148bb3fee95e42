#include "bench/verdict_card.hpp"

#include "jigtrue/base/text.hpp"

#include "bench/markup_words.hpp"

namespace jigtrue::bench {
namespace {

struct Verdict {
  const char* css_class;
  std::string title;
  std::string says;
  std::string next;
};

// "5 of 6 slots ready. This one needs you: 5." without what the title says already.
std::string after_count(const std::string& headline) {
  const std::size_t stop = headline.find(". ");
  return stop == std::string::npos ? headline : headline.substr(stop + 2);
}

Verdict verdict_of_load(const BookLoad& load) {
  const int ready = placed_count(load);
  const int all = static_cast<int>(load.slots.size());
  if (!load.burned.empty())
    return {"none", "Burned", "Load " + number(load.id) + " is in the book.",
            "Look at what was burned, mark below what came out badly. Then load the jig anew and take a photo."};
  if (ready == all) return {"ready", "Ready", load.headline, "Engrave the layout, then press Burned."};
  if (ready == 0)
    return {"refused", "Not ready", after_count(load.headline), "Mend what is named below and take a new photo."};
  return {"partly", std::to_string(ready) + " of " + std::to_string(all) + " ready", after_count(load.headline),
          "Mend what is named below and take a new photo, or engrave those that are ready."};
}

Verdict verdict_of(const DeskState& state, const std::optional<BookLoad>& load) {
  if (state.refusal)
    return {"refused", "Photo not used", state.refusal->text,
            "Nothing may be engraved by it. Put it right and take a new photo."};
  if (load) return verdict_of_load(*load);
  return {"none", "No load yet", "Lay the blanks in, beam off.", "Take a photo of the loaded jig."};
}

}  // namespace

std::string verdict_card(const Desk& desk, const DeskState& state, const std::optional<BookLoad>& load) {
  const Verdict verdict = verdict_of(state, load);
  std::string out = std::string("<section id=\"verdict\" class=\"verdict ") + verdict.css_class + "\" data-title=\"" +
                    markup_text(verdict.title) + "\" data-say=\"" +
                    markup_text(verdict.title + ". " + verdict.says + " " + verdict.next) + "\" data-fixture=\"" +
                    std::to_string(state.fixture + 1) + "\" data-design=\"" +
                    (desk.setup().designs.empty() ? std::string() : std::to_string(state.design + 1)) +
                    "\" data-burned=\"" + (load && !load->burned.empty() ? number(load->id) : std::string()) +
                    "\">\n<h1>" + markup_text(verdict.title) + "</h1>\n<p>" + markup_text(verdict.says) +
                    "</p>\n<p class=\"next\">" + markup_text(verdict.next) + "</p>\n";
  if (const std::optional<Batch> batch = desk.book().current_batch())
    out += "<p>" + (batch->name.empty() ? std::string("Batch") : markup_text(batch->name)) + ": " + left_words(*batch) +
           ".</p>\n";
  if (state.waiting > 0)
    out += "<p role=\"status\">" +
           std::string(state.waiting == 1 ? "A photo is" : number(state.waiting) + " photos are") +
           " being judged &hellip;</p>\n";
  return out + "</section>\n";
}

std::string to_do(const BookLoad& load) {
  std::string items;
  for (const BookSlot& slot : load.slots) {
    const StandingStyle* style = style_called(slot.standing);
    if (slot.finding.empty() || style == nullptr) continue;
    items += std::string("<li class=\"") + style->css_class + "\"><span class=\"sign\"><span aria-hidden=\"true\">" +
             style->symbol + "</span> Slot " + markup_text(slot.id) + "</span> &ndash; " + markup_text(slot.finding) +
             ": " + markup_text(slot.action) + ".</li>\n";
  }
  if (items.empty()) return {};
  return "<section class=\"card todo\" aria-label=\"To mend\"><ul>\n" + items + "</ul></section>\n";
}

std::string cautions_first(const DeskState& state) {
  std::string out;
  for (const std::string& caution : state.cautions)
    out += "<p class=\"card caution\">" + markup_text(caution) + "</p>\n";
  return out;
}

std::string remarks(const DeskState& state) {
  std::string out;
  for (const std::string& remark : state.remarks) out += "<p class=\"remark\">" + markup_text(remark) + "</p>\n";
  if (out.empty()) return out;
  return "<details class=\"card\" id=\"remarks\"><summary>Remarks on this photo (" +
         std::to_string(state.remarks.size()) + ")</summary>\n" + out + "</details>\n";
}

}  // namespace jigtrue::bench
