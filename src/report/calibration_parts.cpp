#include "report/calibration_parts.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/report/local_time.hpp"

namespace jigtrue::page {

std::string plot_style() {
  return R"css(
.plot{margin:.6rem 0;overflow-x:auto}
.plot svg{display:block;width:100%;min-width:22rem;max-width:46rem;height:auto}
.plot text{fill:var(--ink);font-size:14px}
.plot figcaption{color:var(--soft);margin:.2rem 0}
.plot .frame{fill:var(--card);stroke:var(--line)}
.plot .rule{fill:none;stroke:var(--line)}
.plot .dot{fill:none;stroke:var(--ready);stroke-width:3;stroke-linecap:round;stroke-opacity:.75}
.plot .out{fill:none;stroke:var(--mismatch);stroke-width:1.6}
.plot .arrow{fill:none;stroke:var(--mismatch);stroke-width:1.2}
.plot .band{fill:none;stroke:var(--ink);stroke-width:2}.plot .mean{fill:none;stroke:var(--ink);stroke-width:2}
.plot .gap{fill:var(--mismatch);fill-opacity:.16;stroke:var(--mismatch);stroke-dasharray:4 3}
.plot .few{fill:var(--misfit);fill-opacity:.1;stroke:var(--line)}.plot .full{fill:none;stroke:var(--line)}
.plot .count{fill:var(--soft);font-size:12px}.plot .count.none{fill:var(--mismatch);font-weight:700}
.plot .on-light{fill:#10202b;stroke:#fff}.plot .on-dark{fill:#fff;stroke:#10202b}
.plot .on-light,.plot .on-dark{font-size:11px;stroke-width:3px;stroke-opacity:.6;paint-order:stroke}
.plot .point{fill:#fff;stroke:#10202b;stroke-width:.8}.plot .foot{fill:none;stroke:#c9356d;stroke-width:2.4}
.pair{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,26rem),1fr));gap:.4rem 1.4rem}
.facts th{font-weight:600;min-width:8.5rem}tbody.plain th,.facts tbody th{border-left:0}
.next{border-left-color:var(--ready)}
/* a plot is drawn 600 wide and shrinks with the screen: its letters grow against that */
@media (max-width:46rem){.plot text{font-size:21px}.plot .count{font-size:18px}.plot .on-light,.plot .on-dark{font-size:16px}
tbody.plain tr{border-left-width:1px}.facts tbody tr{grid-template-columns:1fr auto}
.facts tbody th{font-size:1rem}.facts .wide{grid-column:1/3}.spread tbody th{grid-column:1/4}.spread .state{grid-column:auto}}
@media print{.plot,h2{break-inside:avoid}h2{break-after:avoid}.pair{grid-template-columns:1fr 1fr}.plot svg{min-width:0}}
)css";
}

std::string origin_line(const CalibrationPageNotes& notes) {
  std::string out = "<p class=\"origin\">" + markup_text(notes.source);
  if (!notes.created.empty()) {
    const std::string created = markup_text(notes.created);
    out += " &middot; <time class=\"nobreak\" datetime=\"" + created + "\">" + markup_text(local_time(notes.created)) +
           "</time>";
  }
  return out + "</p>\n";
}

std::string note_list(const std::vector<std::string>& notes) {
  if (notes.empty()) return {};
  std::string out = "<ul>\n";
  for (const std::string& note : notes) out += "<li>" + markup_text(note) + "</li>\n";
  return out + "</ul>\n";
}

std::string footer(const CalibrationPageNotes& notes) {
  return "<footer>jigtrue " + markup_text(notes.software_version) + "</footer>\n</main>\n</body>\n</html>\n";
}

std::string fact(const std::string& name, const std::string& value, const std::string& remark) {
  return "<tr role=\"row\"><th role=\"rowheader\" scope=\"row\">" + markup_text(name) +
         "</th><td role=\"cell\" class=\"n\"><b>" + value + "</b></td><td role=\"cell\" class=\"wide\">" + remark +
         "</td></tr>\n";
}

}  // namespace jigtrue::page
