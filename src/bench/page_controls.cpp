#include "bench/page_controls.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/bench/own_addresses.hpp"

#include <vector>

namespace jigtrue::bench {
namespace {

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

}  // namespace

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
    for (std::size_t i = 0; i < desk.setup().designs.size(); ++i) designs.push_back(desk.setup().design_name(i));
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

}  // namespace jigtrue::bench
