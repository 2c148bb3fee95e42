#include "jigtrue/base/text.hpp"
#include "jigtrue/report/page_frame.hpp"
#include "jigtrue/report/standing_style.hpp"

#include "report/page_parts.hpp"

namespace jigtrue::page {

namespace {

constexpr const char* kPalette = R"css(
:root{color-scheme:light dark;--paper:#faf8f3;--card:#fff;--ink:#17212b;--soft:#515c67;--line:#d8d3c7;--tint:#eef3f4;
--ready:#005f7d;--misfit:#6d5200;--imprecise:#2f6100;--mismatch:#9c3c00;--doubtful:#742c93;--empty:#47515b;--focus:#0a6f94}
@media (prefers-color-scheme:dark){:root{--paper:#12171c;--card:#1a2128;--ink:#eeebe4;--soft:#abb5bf;--line:#36414b;
--tint:#212b34;--ready:#74d6ff;--misfit:#ffe14a;--imprecise:#a9e878;--mismatch:#ffa469;--doubtful:#e9b2ff;--empty:#d9d6cd;--focus:#8adcff}}
)css";

constexpr const char* kStyle = R"css(*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.5 "Segoe UI",Ubuntu,Cantarell,Roboto,"Noto Sans",sans-serif}
main{max-width:72rem;margin:0 auto;padding:1.5rem 1.25rem 3rem}
h1{font-size:clamp(1.5rem,4.2vw,2.35rem);line-height:1.2;margin:.2rem 0 1rem;text-wrap:balance;overflow-wrap:anywhere}
h2{font-size:1.2rem;margin:2.25rem 0 .6rem}
p{margin:.4rem 0;max-width:70ch}
a{color:inherit}
:focus-visible{outline:3px solid var(--focus);outline-offset:2px}
.origin{color:var(--soft);overflow-wrap:anywhere}
.rack{display:flex;flex-wrap:wrap;gap:.4rem;list-style:none;margin:0 0 1rem;padding:0}
.rack a{display:block;min-width:3.1rem;max-width:12rem;padding:.3rem .6rem;text-align:center;text-decoration:none;
border:2px solid currentColor;border-radius:.35rem .35rem 1.1rem 1.1rem;background:var(--card);overflow:hidden;text-overflow:ellipsis}
.rack b{display:block;font-size:1.05rem;color:var(--ink)}
.rack .empty a{border-style:dashed}.rack .doubtful a{border-style:dotted}.rack .mismatch a{border-style:double;border-width:4px;padding:calc(.3rem - 2px) calc(.6rem - 2px)}
.ready{--hue:var(--ready)}.misfit{--hue:var(--misfit)}.imprecise{--hue:var(--imprecise)}.mismatch{--hue:var(--mismatch)}.doubtful{--hue:var(--doubtful)}.empty{--hue:var(--empty)}
.rack li,.sign{color:var(--hue)}
.todo{margin:0 0 1rem;padding:.8rem 1rem .8rem 1rem;background:var(--card);border:1px solid var(--line);border-left:.4rem solid var(--mismatch);border-radius:.3rem}
.todo ul{margin:0;padding:0;list-style:none}.todo li{padding:.15rem 0;overflow-wrap:anywhere}
.sign{font-weight:700;white-space:nowrap}
.caution{margin:.4rem 0;padding:.5rem .8rem;background:var(--card);border:1px solid var(--line);border-left:.4rem solid var(--misfit);border-radius:.3rem;max-width:none}
.view{margin:0}
.view input{margin:.2rem .35rem .2rem 0;width:1.15rem;height:1.15rem;vertical-align:-.2rem;accent-color:var(--focus)}
.view label{margin-right:1.1rem;display:inline-block;padding:.25rem 0}
.stage{background:#0d1115;border-radius:.4rem;overflow:auto;margin-top:.4rem;max-height:84vh}
.sizes{display:inline-block;border:0;margin:0;padding:0}.sizes legend{float:left;padding:.25rem .6rem .25rem 0;color:var(--soft)}
.view:has(#size-2:checked) .stage svg{width:200%;max-height:none}.view:has(#size-4:checked) .stage svg{width:400%;max-height:none}
.stage .band{fill:#57e39a;fill-opacity:.22;stroke:#57e39a;stroke-width:1.2px;stroke-dasharray:6 3 1 3;vector-effect:non-scaling-stroke}
.stage svg{display:block;width:100%;height:auto;max-height:82vh}
.stage .case{fill:none;stroke:#141d26;stroke-opacity:.75;stroke-width:5px}
.stage .case,.stage .edge,.stage .mid,.stage .art,.stage .was,.stage .ink-case,.stage .ink-line,.stage .dir-case,.stage .dir-line{vector-effect:non-scaling-stroke}
.stage .ink{fill:#f4f1e8;fill-rule:evenodd;stroke:#141d26;stroke-width:.9px;vector-effect:non-scaling-stroke;paint-order:stroke}
.stage .ink-case,.stage .ink-line,.stage .dir-case,.stage .dir-line{fill:none;stroke:#f4f1e8;stroke-width:1.3px;stroke-linejoin:round;stroke-linecap:round}
.stage .ink-case,.stage .dir-case{stroke:#141d26;stroke-opacity:.8;stroke-width:3.4px}.stage .dir-line{stroke-width:1.6px}
.stage .compass{transform:scale(var(--grow,1))}.stage .compass circle{fill:#141d26;fill-opacity:.55}.stage .compass text{fill:#f4f1e8;font-size:calc(var(--name)*.7)}.stage .compass path{stroke-width:2.2px}
.stage .edge,.stage .mid,.stage .art,.stage .was{fill:none;stroke:var(--bright);stroke-width:2.4px;stroke-linejoin:round}
.stage .mid{stroke-width:1.3px;stroke-dasharray:9 5}
.stage .art{stroke:#f4f1e8;stroke-width:1.6px}
.stage .was{stroke:#f4f1e8;stroke-width:1px;stroke-dasharray:2 3}
.stage .hit{fill:transparent;stroke:none;pointer-events:all}
.stage a:hover .edge,.stage a:focus .edge,.stage a:target .edge{stroke-width:6px}
.stage a:focus{outline:none}.stage a:focus-visible .case{stroke:#fff;stroke-opacity:1;stroke-width:11px}
.stage text{font-weight:700;fill:var(--bright);stroke:#141d26;stroke-width:.22em;stroke-linejoin:round;paint-order:stroke;
text-anchor:middle;dominant-baseline:central;font-size:calc(var(--name)*var(--grow,1));pointer-events:none}
.stage .after{text-anchor:start}.stage .before{text-anchor:end}
.view:has(#see-near:checked) .world{transform:var(--near)}
.view:has(#see-near:checked) .world text{font-size:calc(var(--name)*var(--grow,1)/var(--factor))}
.view:has(#see-edge:not(:checked)) .e,.view:has(#see-mid:not(:checked)) .mid,.view:has(#see-art:not(:checked)) .a,
.view:has(#see-band:not(:checked)) .b,.view:has(#see-ink:not(:checked)) .i,.view:has(#see-dir:not(:checked)) .d,
.view:has(#see-name:not(:checked)) .world text{display:none}
.switches{margin-top:.3rem}.nobreak{white-space:nowrap}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;background:var(--card);font-variant-numeric:tabular-nums}
caption{text-align:left;color:var(--soft);padding:.2rem 0 .6rem;background:var(--paper)}
th,td{padding:.5rem .6rem;border-bottom:1px solid var(--line);text-align:left;vertical-align:top;overflow-wrap:anywhere}
thead th{color:var(--soft);font-weight:600;white-space:nowrap}
tbody th{border-left:.35rem solid var(--hue)}
.n{text-align:right;white-space:nowrap}.n small{color:var(--soft);display:block}
tbody tr{scroll-margin-top:4rem}
tbody tr:hover,tbody tr:focus,tbody tr:focus-within,tbody tr:target{background:var(--tint)}
tbody tr:target,tbody tr:focus{outline:2px solid var(--focus);outline-offset:-2px}
.applied{margin:1rem 0 -1rem;padding:.4rem .8rem;border-left:.35rem solid var(--ready);background:var(--card)}
.quiet{color:var(--soft)}
.aloud{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
details{background:var(--card);border:1px solid var(--line);border-radius:.3rem;margin:.4rem 0;padding:.2rem .8rem}
summary{cursor:pointer;padding:.35rem 0;overflow-wrap:anywhere}
details svg{display:block;width:100%;max-width:24rem;height:auto;margin:.3rem 0 .6rem}
details svg text{fill:currentColor;font-size:13px}
details svg .x{fill:var(--ready)}details svg .y{fill:none;stroke:var(--mismatch);stroke-width:1.6}
.care{border:2px solid var(--line);border-radius:.4rem;padding:.2rem 1.1rem 1rem;margin-top:2.5rem;background:var(--card)}
.care h2{margin-top:1rem}.care li{margin:.3rem 0;max-width:72ch}
footer{margin-top:2rem;color:var(--soft);font-size:.9rem;overflow-wrap:anywhere}
@media (max-width:46rem){main{padding:1rem .8rem 2rem}.stage{--grow:1.7}
table,caption,tbody,tr,th,td{display:block}thead{display:none}
tbody tr{display:grid;grid-template-columns:1fr 1fr 1fr;border:1px solid var(--line);border-left:.35rem solid var(--hue);border-radius:.3rem;margin-bottom:.7rem;padding:.3rem}
th,td{border:0;padding:.3rem .5rem}tbody th{border:0;font-size:1.2rem}
td[data-label]::before{content:attr(data-label);display:block;color:var(--soft);font-size:.82rem}
.n{text-align:left}.none,td:empty{display:none}.state{grid-column:2/4}.wide{grid-column:1/4}}
@media print{:root{--paper:#fff;--card:#fff;--ink:#000;--soft:#333;--line:#999;--tint:#fff;--ready:#005f7d;--misfit:#6d5200;--imprecise:#2f6100;
--mismatch:#9c3c00;--doubtful:#742c93;--empty:#47515b;color-scheme:light}.view input,.view label,.sizes,.hint,.switches{display:none}.stage svg{width:100%!important}
main{max-width:none;padding:0}.stage,tr,.care,.todo{break-inside:avoid}.stage{max-height:none;overflow:hidden;background:none;--grow:1.5}.stage svg{max-height:5.8cm}
/* the reasons stand above, with what to do */
thead th:last-child,td[data-label=Reason]{display:none}
body{font-size:8.5pt;line-height:1.3;print-color-adjust:exact;-webkit-print-color-adjust:exact}h1{font-size:15pt;margin:0 0 .4rem}
h2{font-size:11pt;margin:.7rem 0 .2rem}p{margin:.15rem 0;max-width:none}.rack{margin-bottom:.4rem}.rack a{min-width:2.2rem;padding:.1rem .4rem}
.todo{padding:.3rem .6rem;margin-bottom:.4rem}.caution{margin:.15rem 0;padding:.1rem .5rem;font-size:7.5pt}th,td{padding:.12rem .4rem}caption{padding:0 0 .2rem}.n small{display:inline}
details:not([open]),section:has(>details):not(:has(>details[open])){display:none}
.care{margin-top:.5rem;padding:0 .7rem .2rem;font-size:7pt}.care h2{margin:.3rem 0 .1rem}.care ul{columns:2;column-gap:1.6rem;margin:.1rem 0;padding-left:1rem}.care li{margin:.1rem 0;break-inside:avoid}
footer{margin-top:.2rem;font-size:7pt}}
@page{margin:11mm}
)css";

// Row and slot in the picture light up together, where the browser knows :has().
std::string paired(const std::string& n) {
  const std::string row = "#row-" + n;
  const std::string slot = "#pic-" + n;
  return "main:has(" + row + ":hover) " + slot + " .edge,main:has(" + row + ":focus-within) " + slot +
         " .edge{stroke-width:6px}main:has(" + slot + ":hover) " + row + "{background:var(--tint)}\n";
}

std::string pairing(std::size_t slots) {
  std::string out;
  for (std::size_t i = 1; i <= slots; ++i) out += paired(std::to_string(i));
  return out;
}

}  // namespace

std::string head(const std::string& title, const std::string& style) {
  return "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
         "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src "
         "'unsafe-inline'; base-uri 'none'; form-action 'none'\">\n"
         "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
         "<meta name=\"referrer\" content=\"no-referrer\">\n<title>" +
         markup_text(title) + "</title>\n<style>" + style + "</style>\n</head>\n";
}

std::string base_style() { return page_palette() + kStyle; }

std::string style_sheet(const CheckResult& result) { return base_style() + pairing(result.slots.size()); }

}  // namespace jigtrue::page

namespace jigtrue {

std::string page_palette() { return page::kPalette; }

}  // namespace jigtrue
