#include "jigtrue/report/report_html.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/report/local_time.hpp"
#include "jigtrue/report/page_frame.hpp"
#include "jigtrue/report/standing_style.hpp"

#include <cmath>

#include "report/page_parts.hpp"

namespace jigtrue {

namespace {

std::string head(const CheckResult& result) {
  return page::head(result.fixture_name + ": " + headline(result, 8), page::style_sheet(result));
}

// The slots as they stand side by side in the jig, each a link to its row.
std::string rack(const CheckResult& result) {
  std::string out = "<ul class=\"rack\" aria-label=\"Slots\">\n";
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    const SlotResult& slot = result.slots[i];
    const StandingStyle& style = style_of(standing(slot));
    out += std::string("<li class=\"") + style.css_class + "\"><a href=\"#row-" + std::to_string(i + 1) + "\"><b>" +
           markup_text(slot.id) + "</b><span aria-hidden=\"true\">" + style.symbol + "</span><span class=\"aloud\">" +
           style.word + "</span></a></li>\n";
  }
  return out + "</ul>\n";
}

std::string caution_list(const std::vector<std::string>& sentences) {
  std::string out;
  for (const std::string& sentence : sentences) out += "<p class=\"caution\">" + markup_text(sentence) + "</p>\n";
  return out;
}

std::string to_do(const CheckResult& result) {
  std::string items;
  for (const SlotResult& slot : result.slots) {
    if (standing(slot) == Standing::ready) continue;
    const StandingStyle& style = style_of(standing(slot));
    const Attention need = attention(slot);
    items += std::string("<li class=\"") + style.css_class + "\"><span class=\"sign\"><span aria-hidden=\"true\">" +
             style.symbol + "</span> Slot " + markup_text(need.slot_id) + "</span> &ndash; " +
             markup_text(need.finding) + ": " + markup_text(need.action) + ".</li>\n";
  }
  if (items.empty()) return {};
  return "<section class=\"todo\" aria-label=\"Slots that need you\"><ul>\n" + items + "</ul></section>\n";
}

// Where a direction of the bed points to in the photo, in words; empty when that is not known.
std::string in_the_photo(const std::optional<BedDirections>& seen, Vector2d BedDirections::*axis, double sign) {
  if (!seen) return {};
  const Vector2d d = sign * ((*seen).*axis);
  constexpr double kSlanted = 0.38;  // sine of 22 degrees
  std::string words = d.y() < -kSlanted ? "up" : d.y() > kSlanted ? "down" : "";
  if (std::abs(d.x()) > kSlanted) words += std::string(words.empty() ? "" : " and ") + (d.x() < 0.0 ? "left" : "right");
  return " (" + words + " in the photo)";
}

std::string length(double mm) { return fixed_text(std::abs(mm), 2) + "&nbsp;mm"; }

std::string placement_line(const CheckResult& result) {
  if (!result.placement)
    return "<p>How the whole fixture stands is not known: too few marks or slots were measured.</p>\n";
  const FixturePlacement& p = *result.placement;
  return "<p>The fixture stands " + length(p.shift_mm.x()) + (p.shift_mm.x() < 0 ? " to the left" : " to the right") +
         in_the_photo(result.directions, &BedDirections::x, p.shift_mm.x() < 0 ? -1.0 : 1.0) + " and " +
         length(p.shift_mm.y()) + (p.shift_mm.y() < 0 ? " nearer to you" : " further away") +
         in_the_photo(result.directions, &BedDirections::y, p.shift_mm.y() < 0 ? -1.0 : 1.0) +
         " than its nominal place (&plusmn;&nbsp;" + fixed_text(p.shift_u_mm, 2) + "&nbsp;mm), turned " +
         fixed_text(std::abs(p.turn_deg), 2) + "&deg; " + (p.turn_deg < 0 ? "clockwise" : "counter-clockwise") +
         " (&plusmn;&nbsp;" + fixed_text(p.turn_u_deg, 2) + "&deg;), as told by its " + markup_text(p.from) + ".</p>\n";
}

std::string witness_line(const CheckResult& result) {
  if (!result.witness) {
    return "<p>The camera file keeps no witness marks, so nothing on the bed says whether the camera has moved "
           "since.</p>\n";
  }
  const WitnessFinding& w = *result.witness;
  std::string out =
      "<p>Witness marks on the bed: " + std::to_string(w.seen) + " of " + std::to_string(w.kept) + " seen";
  if (w.seen > 0) {
    out += "; the farthest lies " + fixed_text(w.largest_px, 1) + "&nbsp;px (" + fixed_text(w.largest_mm, 2) +
           "&nbsp;mm) from where the camera file expects it";
  }
  return out + ".</p>\n";
}

std::string notes(const CheckResult& result) {
  std::string out;
  if (result.self_located) {
    out +=
        "<li>The camera was placed by the fixture&#39;s own marks, taken to stand at their nominal places: a shift of "
        "the whole "
        "fixture on the bed does not show here.</li>\n";
  }
  for (const std::string& note : result.notes) out += "<li>" + markup_text(note) + "</li>\n";
  return out.empty() ? out : "<ul>\n" + out + "</ul>\n";
}

constexpr const char* kCare =
    R"html(<section class="care" aria-labelledby="care"><h2 id="care">Before the laser fires</h2>
<ul>
<li><b>Eyes.</b> Direct and scattered beams blind, invisible ones too. Run with the enclosure shut, or wear goggles made for this laser's wavelength and power.</li>
<li><b>Enclosure and interlocks.</b> Never defeat or bridge them. Open the lid only once the beam is off.</li>
<li><b>Fumes.</b> Run the extraction and filter before, during and after the job, also for small ones.</li>
<li><b>Fire.</b> Stay with the machine while it runs, with a suitable extinguisher at hand. Keep the bed free of offcuts and dust.</li>
<li><b>Material.</b> Engrave only what you can name. PVC and other chlorinated plastics give off toxic, corrosive gas; coatings, plated and treated blanks may too. When in doubt, leave it out.</li>
<li><b>Try first.</b> This page says where the blanks lay in the photo. If anything was touched since, take a new photo; trace the outline at no or pointer power before you burn.</li>
</ul>
<p>The machine maker's manual, local codes and a licensed or qualified person (laser safety, electrics, ventilation) come before anything written here.</p>
</section>
)html";

std::string origin_line(const CheckResult& result, const ReportOptions& options) {
  std::string out =
      "<p class=\"origin\">" + markup_text(result.fixture_name) + " &middot; " + markup_text(result.photo_file);
  if (!options.created.empty())
    out += " &middot; <time class=\"nobreak\" datetime=\"" + markup_text(options.created) + "\">" +
           markup_text(local_time(options.created)) + "</time>";
  return out + "</p>\n";
}

}  // namespace

std::string care_before_firing() { return kCare; }

std::string report_html(const CheckResult& result, const std::string& picture_jpeg, const ReportOptions& options) {
  std::string out = head(result) + "<body>\n<main>\n<header>\n" + origin_line(result, options) + "<h1>" +
                    markup_text(headline(result)) + "</h1>\n" + rack(result) +
                    caution_list(cautions(result, options.machine)) + "</header>\n" + to_do(result);
  out += "<section aria-labelledby=\"photo\"><h2 id=\"photo\">In the photo</h2>\n" +
         page::picture(result, picture_jpeg) +
         "<p class=\"quiet hint\">Choose a slot in the picture to go to its row, or a slot&#39;s name in the table to "
         "find it in the picture. At each blank&#39;s end the long arrow points along, the short one "
         "across.</p></section>\n";
  if (result.machine_applied)
    out +=
        "<p class=\"applied\"><b>Corrected for the machine.</b> The moves below contain the machine&#39;s own errors; "
        "see "
        "<a href=\"#stand\">Fixture and camera</a>.</p>\n";
  out += "<section aria-labelledby=\"moves\"><h2 id=\"moves\">Slot by slot</h2>\n" + page::slot_table(result) +
         "</section>\n";
  out += "<section aria-labelledby=\"stand\"><h2 id=\"stand\">Fixture and camera</h2>\n" + placement_line(result) +
         witness_line(result) + notes(result) + "</section>\n";
  const std::string budgets = page::budgets(result);
  if (!budgets.empty()) {
    out +=
        "<section aria-labelledby=\"doubt\"><h2 id=\"doubt\">Where the &plusmn; comes from</h2>\n<p "
        "class=\"quiet\">Standard "
        "uncertainties (1&nbsp;&sigma;) by cause; the &plusmn; of each slot covers 95&nbsp;%.</p>\n" +
        budgets + "</section>\n";
  }
  out += kCare;
  return out + "<footer>jigtrue " + markup_text(options.software_version) + "</footer>\n</main>\n</body>\n</html>\n";
}

}  // namespace jigtrue
