#include "jigtrue/base/text.hpp"
#include "jigtrue/bench/own_addresses.hpp"
#include "jigtrue/report/local_time.hpp"
#include "jigtrue/report/page_frame.hpp"
#include "jigtrue/report/standing_style.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "bench/pages.hpp"
#include <nlohmann/json.hpp>

namespace jigtrue::bench {
namespace {

constexpr int kLoadsShown = 8;

std::string number(std::int64_t value) { return std::to_string(value); }

const StandingStyle* style_called(const std::string& css_class) {
  const auto& all = standing_styles();
  const auto found =
      std::find_if(all.begin(), all.end(), [&](const StandingStyle& s) { return css_class == s.css_class; });
  return found == all.end() ? nullptr : &*found;
}

struct Verdict {
  const char* css_class;
  std::string title;
  std::string says;
  std::string next;
};

int placed_count(const BookLoad& load) {
  return static_cast<int>(
      std::count_if(load.slots.begin(), load.slots.end(), [](const BookSlot& s) { return s.ready; }));
}

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

std::string left_words(const Batch& batch) {
  return batch.left() == 0 ? "all " + number(batch.pieces) + " done"
                           : number(batch.left()) + " of " + number(batch.pieces) + " left";
}

std::string verdict_markup(const Desk& desk, const DeskState& state, const Verdict& verdict,
                           const std::optional<BookLoad>& load) {
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

std::string outcome_button(const BookLoad& load, const BookSlot& slot, const char* outcome, const char* label,
                           std::size_t place) {
  return "<button id=\"" + std::string(outcome) + "-" + std::to_string(place) + "\" data-post=\"/loads/" +
         number(load.id) + "/outcome\" data-fields=\"" +
         markup_text(nlohmann::json{{"slot", valid_utf8(slot.id)}, {"outcome", outcome}}.dump()) +
         "\" aria-pressed=\"" + (slot.outcome == outcome ? "true" : "false") + "\">" + label +
         "<span class=\"aloud\">, slot " + markup_text(slot.id) + "</span></button>";
}

// What an inspection says of each slot, for people; empty where there was none.
struct Seen {
  std::string headline;
  std::string again;  // the slots that want another pass, "2, 5"
  std::map<std::string, std::string> slots;
};

std::string place_words(const nlohmann::json& from_blank) {
  if (!from_blank.is_object() || !from_blank["across"].is_number()) return {};
  std::string out = ", " + signed_text(from_blank["across"], 2) + " mm across";
  if (from_blank["along"].is_number()) out += ", " + signed_text(from_blank["along"], 2) + " mm along";
  return out + " from where it belongs";
}

Seen seen_after_the_burn(const Book& book, std::int64_t load) {
  Seen seen;
  const nlohmann::json all = nlohmann::json::parse(book.file(load, "inspection.json").value_or("{}"), nullptr, false);
  if (!all.is_object() || !all.contains("slots")) return seen;
  seen.headline = all.value("headline", "");
  for (const nlohmann::json& slot : all["slots"]) {
    std::string words = slot.value("state", "") + place_words(slot.value("from_blank_mm", nlohmann::json()));
    for (const nlohmann::json& reason : slot["reasons"]) words += "; " + reason.get<std::string>();
    seen.slots[slot.value("id", "")] = words;
    if (slot.value("wants_another_pass", false)) seen.again += (seen.again.empty() ? "" : ", ") + slot.value("id", "");
  }
  return seen;
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

// Of a load that was burned, while it still lies there.
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

std::string rack(const BookLoad& load, const Seen& seen = {}) {
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

std::string duration_words(double seconds) {
  const auto minutes = static_cast<std::int64_t>(std::ceil(seconds / 60.0));
  if (minutes < 90) return number(minutes) + " min";
  return number(minutes / 60) + " h " + number(minutes % 60) + " min";
}

std::string burned_button(const BookLoad& load) {
  if (!load.burned.empty() || placed_count(load) == 0) return {};
  return "<div class=\"acts\"><button class=\"main\" id=\"burned\" data-post=\"/loads/" + number(load.id) +
         "/burned\">Burned</button> <span class=\"quiet\">once the machine has done it: it starts "
         "nothing</span></div>\n";
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

// Of the load that lay there when a photo was not used: it may be burning while somebody tries one.
std::string before_the_refusal(const BookLoad& load, const Seen& seen, const SiteOptions& options) {
  if (!load.burned.empty()) return after_the_burn(load, seen, options) + rack(load, seen);
  return "<section class=\"card\" aria-labelledby=\"before\"><h2 id=\"before\">Load " + number(load.id) +
         ", before this photo</h2>\n<p>" + markup_text(load.headline) + " <a href=\"/loads/" + number(load.id) +
         "/\">Its report</a></p>\n" + burned_button(load) + "</section>\n";
}

// As it is to be burned, or as it was.
std::string figure(const BookLoad& load, const Seen& seen = {}) {
  const bool looked_at = !seen.headline.empty();
  const std::string at = "/loads/" + number(load.id) + "/";
  return "<figure><a href=\"" + at + (looked_at ? "inspection.html" : "") + "\"><img src=\"" + at +
         (looked_at ? "inspected.jpg" : "closeup.jpg") + "\" alt=\"The photo of load " + number(load.id) +
         (looked_at ? " after burning, each mark outlined" : " with every slot outlined") +
         "; the report says the same in words\"></a></figure>\n";
}

std::string batch_name(const Batch& batch) {
  return batch.name.empty() ? "batch " + number(batch.id) : markup_text(batch.name);
}

std::string other_batches(const Book& book) {
  std::string out;
  for (const Batch& batch : book.unfinished_batches())
    out += "<li>" + batch_name(batch) + ", " + number(batch.left()) + " left <button id=\"batch-" + number(batch.id) +
           "\" data-post=\"/batches/" + number(batch.id) + "/current\">Go on<span class=\"aloud\"> with " +
           batch_name(batch) + "</span></button></li>\n";
  if (out.empty()) return out;
  return "<details class=\"card\" id=\"other-batches\"><summary>Batches that wait</summary>\n<ul class=\"loads\">\n" +
         out + "</ul></details>\n";
}

// "About 12 min more, as it has gone so far: 3 loads." Nothing when all is done.
std::string time_left(const Batch& batch, const std::optional<BookLoad>& load) {
  if (batch.left() == 0) return {};
  std::optional<double> piece_s = batch.piece_s;
  std::string basis = "as it has gone so far";
  if (!piece_s && load && load->run_s && placed_count(*load) > 0) {
    piece_s = *load->run_s / placed_count(*load);
    basis = "burning alone";
  }
  std::string loads;
  if (load && placed_count(*load) > 0) {
    const std::int64_t each = placed_count(*load);
    const std::int64_t count = (batch.left() + each - 1) / each;
    loads = number(count) + (count == 1 ? " load" : " loads") + " of up to " + number(each);
  }
  if (!piece_s)
    return loads.empty() ? "How long it will take shows once loads were burned."
                         : loads + "; how long that takes shows once loads were burned.";
  return "About " + duration_words(*piece_s * static_cast<double>(batch.left())) + " more, " + basis +
         (loads.empty() ? "" : ": " + loads) + ".";
}

std::string batch_card(const Book& book, const std::optional<BookLoad>& load) {
  const std::optional<Batch> batch = book.current_batch();
  if (!batch) return other_batches(book);
  std::string out = "<section class=\"card\" aria-labelledby=\"batch\"><h2 id=\"batch\">Batch" +
                    (batch->name.empty() ? std::string() : ": " + markup_text(batch->name)) +
                    "</h2>\n<p class=\"big\">" + left_words(*batch) + "</p>\n<progress max=\"" + number(batch->pieces) +
                    "\" value=\"" + number(batch->done) + "\" aria-label=\"Pieces done\"></progress>\n";
  if (const std::string time = time_left(*batch, load); !time.empty()) out += "<p>" + time + "</p>\n";
  if (batch->spoiled > 0) out += "<p>Spoiled so far: " + number(batch->spoiled) + ".</p>\n";
  std::string next;
  for (const Piece& piece : book.waiting(batch->id, 6))
    if (!piece.text.empty()) next += (next.empty() ? "" : ", ") + markup_text(piece.text);
  if (!next.empty()) out += "<p class=\"quiet\">Next: " + next + (batch->left() > 6 ? " &hellip;" : "") + "</p>\n";
  return out + "<p><a href=\"/batches/" + number(batch->id) + "/list\">Packing list</a></p>" +
         (batch->left() > 0
              ? "<div class=\"acts\"><button id=\"aside\" data-post=\"/batches/none\">Set aside</button></div>"
              : "") +
         "</section>\n" + other_batches(book);
}

std::string last_loads(const Book& book) {
  std::string out;
  for (const BookLoad& load : book.last_standing_loads(kLoadsShown))
    out += "<li><a href=\"/loads/" + number(load.id) + "/\">Load " + number(load.id) + "</a> <span>" +
           markup_text(load.headline) + "</span> <span class=\"quiet\">" + markup_text(local_time(load.time)) +
           (load.burned.empty() ? ", not burned" : ", burned") + "</span></li>\n";
  if (out.empty()) return out;
  return "<section class=\"card\" aria-labelledby=\"loads\"><h2 id=\"loads\">Last loads</h2>\n<ul class=\"loads\">\n" +
         out +
         "</ul>\n<p class=\"quiet\">The whole book: <a href=\"/book.csv\" download>CSV</a>, <a href=\"/book.json\" "
         "download>JSON</a></p></section>\n";
}

std::string choices(const char* name, const char* label, const std::vector<std::string>& offers, std::size_t chosen) {
  std::string out = std::string("<label class=\"field\">") + label + "<select id=\"" + name + "\">\n";
  for (std::size_t i = 0; i < offers.size(); ++i)
    out += "<option value=\"" + std::to_string(i + 1) + "\"" + (i == chosen ? " selected" : "") + ">" +
           markup_text(offers[i]) + "</option>\n";
  return out + "</select></label>\n";
}

// Whoever sees this has the token already.
std::string phone_card(const SiteOptions& options) {
  if (options.phone.empty())
    return "<p class=\"quiet\">This page is for this computer alone; started with --listen 0.0.0.0:8087, phones may "
           "use it, "
           "too.</p>\n";
  return "<details class=\"card\" id=\"phone\"><summary>Open this page on a phone</summary>\n" +
         qr_svg(options.phone, "A code that holds the address below, for a phone&#39;s camera") +
         "\n<p class=\"address\">" + markup_text(options.phone) +
         "</p>\n<p class=\"quiet\">Whoever has this address may use the bench, until it ends.</p></details>\n";
}

std::string controls(const Desk& desk, const SiteOptions& options) {
  const DeskState state = desk.state();
  std::string out = R"html(<aside aria-label="Photo, choices and batch">
<input type="file" id="burned-photo" accept="image/jpeg,image/png,image/tiff" capture="environment" hidden>
<p class="card" id="note" role="alert" hidden></p>
<p class="card" id="busy" hidden></p>
<div class="hand">
<label class="pick main"><input type="file" name="photo" accept="image/jpeg" capture="environment">Take a photo</label>
<label class="pick"><input type="file" name="photo" accept="image/jpeg,image/png,image/tiff" multiple>Choose a photo</label>
)html";
  if (options.snap)
    out += R"html(<div class="snap"><button id="snap" class="main" data-label="Camera: snap">Camera: snap</button>
<label>in <select id="delay" aria-label="Seconds before the camera snaps"><option value="0">0 s</option><option value="3" selected>3 s</option><option value="5">5 s</option><option value="10">10 s</option></select></label></div>
)html";
  out += "</div>\n";
  if (!options.watched.empty())
    out +=
        "<p class=\"quiet\">Photos that appear in " + markup_text(options.watched) + " are taken by themselves.</p>\n";
  out +=
      R"html(<div class="care"><p><b>Loading:</b> machine disarmed, beam off, only then the lid open. Engrave no blank that you cannot name: PVC and other chlorinated plastics give off toxic, corrosive gas. Keep offcuts and dust off the bed.</p></div>
<section class="card" aria-labelledby="what"><h2 id="what">What lies there, what it gets</h2>
)html";
  std::vector<std::string> fixtures;
  for (const FixtureOffer& offer : desk.setup().fixtures) fixtures.push_back(offer.fixture.name);
  out += choices("fixture", "Fixture", fixtures, state.fixture);
  if (!desk.setup().designs.empty()) {
    std::vector<std::string> designs;
    for (std::size_t i = 0; i < desk.setup().designs.size(); ++i) designs.push_back(desk.design_name(i));
    out += choices("design", "Design", designs, state.design);
  }
  out +=
      "</section>\n<details class=\"card\" id=\"new-batch\"><summary>Begin a batch</summary>\n<form id=\"batch-form\" "
      "method=\"post\" action=\"/batches\" enctype=\"multipart/form-data\">\n<label class=\"field\">Its name<input "
      "name=\"name\" maxlength=\"100\" autocomplete=\"off\"></label>\n<label class=\"field\">How many pieces<input "
      "name=\"pieces\" inputmode=\"numeric\" pattern=\"[0-9]*\"></label>\n<label class=\"field\">or their names, one "
      "on "
      "each line<textarea id=\"names\" name=\"names\" rows=\"5\"></textarea></label>\n<label class=\"pick\"><input "
      "type=\"file\" id=\"names-file\" accept=\".csv,.txt,text/csv,text/plain\">Names from a file (CSV)</label>\n";
  if (!desk.setup().font)
    out +=
        "<p class=\"quiet\">Names are shown and listed, not engraved: start the bench with --font FILE for that.</p>\n";
  out += "<div class=\"acts\"><button>Begin</button></div></form></details>\n";
  out += phone_card(options);
  if (!options.kept) out += "<p class=\"quiet\">No --book was named: all this is gone when the bench ends.</p>\n";
  return out + "</aside>\n";
}

std::string head_of(const std::string& title) {
  return "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
         "content=\"width=device-width, initial-scale=1\">\n<title>" +
         markup_text(title) +
         "</title>\n<link rel=\"stylesheet\" href=\"/bench.css\">\n<link rel=\"icon\" "
         "href=\"/icon.svg\">\n";
}

}  // namespace

std::string view(const Desk& desk, const SiteOptions& options) {
  const DeskState state = desk.state();
  const Book& book = desk.book();
  const std::optional<BookLoad> load = book.last_load();
  std::string out = verdict_markup(desk, state, verdict_of(state, load), load);
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

std::string packing_list(const Book& book, const Batch& batch) {
  std::string rows;
  for (const Piece& piece : book.pieces(batch.id))
    rows += "<tr><td>" + number(piece.number) + "</td><td>" + markup_text(piece.text) + "</td><td>" +
            (piece.done ? "done, load " + number(piece.load.value_or(0)) + ", slot " + markup_text(piece.slot)
                        : std::string("to do")) +
            "</td><td class=\"box\"></td></tr>\n";
  return head_of("Packing list") + "</head>\n<body class=\"list\">\n<main>\n<h1>Packing list" +
         (batch.name.empty() ? std::string() : ": " + markup_text(batch.name)) + "</h1>\n<p>" + number(batch.done) +
         " of " + number(batch.pieces) + " done, " + number(batch.spoiled) + " spoiled on the way. Begun " +
         markup_text(local_time(batch.time)) +
         ".</p>\n<table>\n<thead><tr><th>Piece</th><th>Name</th><th>Engraved</th><th>Packed</th></tr></"
         "thead>\n<tbody>\n" +
         rows + "</tbody></table>\n</main>\n</body>\n</html>\n";
}

}  // namespace jigtrue::bench
