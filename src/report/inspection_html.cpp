#include "jigtrue/base/text.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/report/inspection_pages.hpp"
#include "jigtrue/report/inspection_words.hpp"
#include "jigtrue/report/local_time.hpp"

#include <cmath>

#include "report/base64.hpp"
#include "report/beam_chart.hpp"
#include "report/inspection_draw.hpp"
#include "report/page_parts.hpp"

namespace jigtrue {
namespace {

constexpr const char* kInspectionStyle = R"css(
.marked{--hue:var(--ready)}.unmarked{--hue:var(--mismatch)}
.pieces{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,30rem),1fr));gap:1rem}
.piece{margin:0;background:var(--card);border:1px solid var(--line);border-left:.4rem solid var(--hue);border-radius:.3rem;padding:.6rem .8rem}
.piece img,.load img{display:block;width:100%;height:auto;border-radius:.2rem;margin:.4rem 0}
.piece h3{margin:0;font-size:1.05rem}.piece h3 span{color:var(--hue)}
.figures{display:grid;grid-template-columns:repeat(auto-fill,minmax(9rem,1fr));gap:.2rem .8rem;margin:.3rem 0 0}
.figures dt{color:var(--soft);font-size:.85rem}.figures dd{margin:0 0 .2rem;font-variant-numeric:tabular-nums}
)css";

std::string figure_cell(const std::string& name, const std::string& value) {
  return "<div><dt>" + name + "</dt><dd>" + value + "</dd></div>";
}

// One digit more where the half-width would read as nothing.
std::string with_u(double value, double u, int usual_decimals, const char* unit) {
  const int decimals = u < 0.5 * std::pow(10.0, -usual_decimals) ? usual_decimals + 1 : usual_decimals;
  return signed_text(value, decimals) + " &plusmn;&nbsp;" + fixed_text(u, decimals) + unit;
}

std::string figures(const InspectedSlot& slot) {
  std::string out = "<dl class=\"figures\">";
  if (slot.from_blank_mm && slot.uncertainty) {
    out += figure_cell("off the centreline",
                       with_u(slot.from_blank_mm->across_mm, slot.uncertainty->across_mm, 2, "&nbsp;mm"));
    if (slot.from_blank_mm->along_mm)
      out += figure_cell("off along the blank",
                         with_u(*slot.from_blank_mm->along_mm, slot.uncertainty->along_mm, 2, "&nbsp;mm"));
  }
  if (slot.rotation_deg && slot.uncertainty)
    out += figure_cell("turned", with_u(*slot.rotation_deg, slot.uncertainty->rotation_deg, 2, "&deg;"));
  if (slot.from_placed_mm && slot.placed_uncertainty)
    out += figure_cell("from the layout, across",
                       with_u(slot.from_placed_mm->across_mm, slot.placed_uncertainty->across_mm, 2, "&nbsp;mm"));
  if (slot.from_placed_mm && slot.from_placed_mm->along_mm && slot.placed_uncertainty)
    out += figure_cell("from the layout, along",
                       with_u(*slot.from_placed_mm->along_mm, slot.placed_uncertainty->along_mm, 2, "&nbsp;mm"));
  if (slot.contrast)
    out += figure_cell(*slot.contrast < 0.0 ? "contrast (paler)" : "contrast", fixed_text(*slot.contrast, 2));
  if (slot.halo && slot.halo_u)
    out += figure_cell("darker beside the ink", with_u(100.0 * *slot.halo, 100.0 * *slot.halo_u, 1, "&nbsp;%"));
  if (slot.evenness) out += figure_cell("evenness", fixed_text(*slot.evenness, 2));
  return out + "</dl>";
}

std::string piece(const InspectionResult& result, std::size_t i) {
  const InspectedSlot& slot = result.slots[i];
  const auto passes = result.art.of(slot.id);
  std::string out = "<figure class=\"piece " + std::string(to_string(slot.state)) + "\"><h3>Slot " +
                    markup_text(slot.id) + " <span>" + to_string(slot.state) + "</span></h3>";
  for (const std::string& reason : slot.reasons) out += "<p>" + markup_text(reason) + "</p>";
  if (!slot.remedy.empty()) out += "<p><b>" + markup_text(slot.remedy) + "</b></p>";
  const cv::Mat3b picture = close_up_picture(slot, passes.get());
  if (!picture.empty())
    out += "<img alt=\"Slot " + markup_text(slot.id) + ", its surface unrolled\" src=\"data:image/jpeg;base64," +
           base64(encode_jpeg(picture, 80)) + "\">";
  return out + figures(slot) + "</figure>\n";
}

}  // namespace

std::string inspection_html(const InspectionResult& result, const std::vector<BurnRecord>& loads,
                            const std::string& annotated_jpeg, const ReportOptions& options) {
  std::string out = page::head(result.blanks.fixture_name + ": " + inspection_headline(result),
                               page::base_style() + kInspectionStyle + page::beam_chart_style()) +
                    "<body>\n<main>\n<header>\n<p class=\"origin\">" + markup_text(result.blanks.fixture_name) +
                    " &middot; " + markup_text(result.blanks.photo_file);
  if (!options.created.empty()) out += " &middot; " + markup_text(local_time(options.created));
  out += "</p>\n<h1>" + markup_text(inspection_headline(result)) + "</h1>\n";
  if (const std::string beam = beam_sentence(result); !beam.empty()) out += "<p>" + markup_text(beam) + "</p>\n";
  if (const std::string again = again_sentence(result); !again.empty())
    out += "<p>" + markup_text(again) + " <code>again.svg</code> and <code>again.dxf</code> hold exactly these.</p>\n";
  for (const std::string& note : result.notes) out += "<p class=\"caution\">" + markup_text(note) + "</p>\n";
  out +=
      "</header>\n<section class=\"load\" aria-label=\"The load\"><img alt=\"The load after burning\" "
      "src=\"data:image/jpeg;base64," +
      base64(annotated_jpeg) +
      "\"></section>\n<section aria-labelledby=\"pieces\"><h2 id=\"pieces\">Piece by piece, "
      "what needs you first</h2>\n<p class=\"quiet\">Each blank&#39;s surface as the beam sees it. Dashed: its "
      "centreline; the short line across it: where the drawing&#39;s middle belongs; yellow: the drawing where its "
      "mark was found; the arrow, ten times life size, from the one to the other.</p>\n<div class=\"pieces\">\n";
  for (const std::size_t i : by_trouble(result))
    if (result.slots[i].is_due) out += piece(result, i);
  return out + "</div></section>\n" + page::beam_over_loads(loads) + "<footer>jigtrue " +
         markup_text(options.software_version) + "</footer>\n</main>\n</body>\n</html>\n";
}

}  // namespace jigtrue
