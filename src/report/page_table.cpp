#include "jigtrue/base/text.hpp"
#include "jigtrue/measurement/readiness.hpp"
#include "jigtrue/report/standing_style.hpp"

#include "report/page_parts.hpp"

namespace jigtrue::page {

namespace {

constexpr const char* kNone = "<span aria-hidden=\"true\">&ndash;</span><span class=\"aloud\">not measured</span>";

// With a true minus sign, as wide as the plus.
std::string with_sign(double value) {
  std::string text = signed_text(value, 2);
  return text[0] == '-' ? text.replace(0, 1, "&minus;") : text;
}

std::string cell(const char* css_class, const char* label, const std::string& markup) {
  return std::string("<td role=\"cell\" class=\"") + css_class + "\" data-label=\"" + label + "\">" + markup + "</td>";
}

// A slot with numbers may still lack one of them: then it says so aloud.
std::string measured_cell(const char* label, const std::optional<double>& value,
                          const std::optional<double>& half_width, const char* unit) {
  if (!value) return cell("n", label, "<span class=\"quiet\">not measured</span>");
  std::string out = "<b>";
  out += with_sign(*value) + "</b>" + unit;
  if (half_width) out += " <small>&plusmn;&nbsp;" + fixed_text(*half_width, 2) + "</small>";
  return cell("n", label, out);
}

std::string number_cells(const std::optional<SlotNumbers>& numbers) {
  if (!numbers)
    return cell("n none", "Move along", kNone) + cell("n none", "Move across", kNone) + cell("n none", "Turn", kNone);
  const SlotNumbers& n = *numbers;
  return measured_cell("Move along", n.along_mm, n.uncertainty.along_mm, "&nbsp;mm") +
         measured_cell("Move across", n.across_mm, n.uncertainty.across_mm, "&nbsp;mm") +
         measured_cell("Turn", n.rotation_deg, n.uncertainty.rotation_deg, "&deg;");
}

std::string design_cell(const SlotResult& slot) {
  if (!slot.design) return "<span class=\"quiet\">none declared</span>";
  if (!slot.design_fits) return {};
  std::string out = *slot.design_fits ? "fits" : "<b>does not fit</b>";
  if (slot.usable_band_mm) out += ", band " + fixed_text(*slot.usable_band_mm, 1) + "&nbsp;mm";
  if (!slot.design_note.empty()) out += "<br>" + markup_text(slot.design_note);
  return out;
}

std::string row(const SlotResult& slot, std::size_t n) {
  const StandingStyle& style = style_of(standing(slot));
  const std::string number = std::to_string(n);
  std::string out = "<tr role=\"row\" id=\"row-" + number + "\" tabindex=\"-1\" class=\"" + style.css_class +
                    "\"><th role=\"rowheader\" scope=\"row\"><a href=\"#pic-" + number + "\">" + markup_text(slot.id) +
                    "</a></th>";
  out += cell("state", "State",
              std::string("<span class=\"sign\"><span aria-hidden=\"true\">") + style.symbol + "</span> " +
                  to_string(slot.state) + "</span>");
  out += number_cells(slot.numbers) + cell("wide", "Design", design_cell(slot));
  std::vector<std::string> reasons = slot.reasons;
  for (const Obstacle& obstacle : obstacles(slot))  // why a design does not fit stands in its own column
    if (obstacle.kind != Obstacle::Kind::design) reasons.push_back(obstacle.text());
  out += cell("wide", "Reason", markup_text(joined(reasons, "; ")));
  return out + "</tr>\n";
}

}  // namespace

std::string slot_table(const CheckResult& result) {
  std::string out =
      "<div class=\"scroll\"><table role=\"table\">\n<caption>Move each design by these amounts. Along: in the "
      "direction of the slot&#39;s "
      "axis. Across: 90&deg; to the left of it, seen from above. Turn: counter-clockwise. &plusmn; holds the truth 95 "
      "times in "
      "100.</caption>\n<thead role=\"rowgroup\"><tr role=\"row\">";
  for (const char* name : {"Slot", "State"})
    out += std::string("<th role=\"columnheader\" scope=\"col\">") + name + "</th>";
  for (const char* name : {"Move along", "Move across", "Turn"}) {
    out += std::string("<th role=\"columnheader\" scope=\"col\" class=\"n\">") + name + "</th>";
  }
  for (const char* name : {"Design", "Reason"})
    out += std::string("<th role=\"columnheader\" scope=\"col\">") + name + "</th>";
  out += "</tr></thead>\n<tbody role=\"rowgroup\">\n";
  for (std::size_t i = 0; i < result.slots.size(); ++i) out += row(result.slots[i], i + 1);
  return out + "</tbody>\n</table></div>\n";
}

}  // namespace jigtrue::page
