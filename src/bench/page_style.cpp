#include "jigtrue/report/page_frame.hpp"

#include "bench/pages.hpp"

namespace jigtrue::bench {
namespace {

constexpr const char* kBenchStyle = R"css(*{box-sizing:border-box}
[hidden]{display:none!important}
body{margin:0;background:var(--paper);color:var(--ink);font:1.15rem/1.45 "Segoe UI",Ubuntu,Cantarell,Roboto,"Noto Sans",sans-serif}
body.over{outline:.5rem dashed var(--focus);outline-offset:-.5rem}
a{color:inherit}
:focus-visible,.pick:focus-within{outline:3px solid var(--focus);outline-offset:2px}
.aloud{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
.skip{position:absolute;left:-99rem}.skip:focus{left:.5rem;top:.5rem;background:var(--card);padding:.6rem;z-index:3}
.top{display:flex;flex-wrap:wrap;gap:.3rem 1.2rem;align-items:baseline;padding:.5rem 1.2rem;border-bottom:1px solid var(--line);color:var(--soft)}
.top b{color:var(--ink)}
#link.on::before{content:"\25CF\A0";color:var(--ready)}#link.off{color:var(--mismatch);font-weight:700}#link.off::before{content:"\25CB\A0"}
.bench{display:grid;grid-template-columns:minmax(0,1fr) 25rem;gap:1.4rem;max-width:100rem;margin:0 auto;padding:1rem 1.2rem 3rem}
.ready{--hue:var(--ready)}.misfit{--hue:var(--misfit)}.imprecise{--hue:var(--imprecise)}.mismatch,.partly,.refused{--hue:var(--mismatch)}.doubtful{--hue:var(--doubtful)}.empty,.none{--hue:var(--empty)}
.verdict{border-left:1rem solid var(--hue);background:var(--card);border-radius:.4rem;padding:.7rem 1.2rem}
.verdict h1{margin:0;font-size:clamp(2.4rem,7vw,5.2rem);line-height:1.05;color:var(--hue);overflow-wrap:anywhere}
.verdict p{margin:.35rem 0 0;font-size:1.3rem;max-width:60ch;overflow-wrap:anywhere}
.verdict .next{font-weight:700}
.card{background:var(--card);border:1px solid var(--line);border-radius:.4rem;padding:.7rem 1rem;margin:1rem 0 0}
.card h2{font-size:1.1rem;margin:0 0 .5rem;color:var(--soft);font-weight:600}
.todo{border-left:.5rem solid var(--mismatch)}
.todo ul,.rack,.loads{list-style:none;margin:0;padding:0}.todo li{padding:.25rem 0;overflow-wrap:anywhere}
.caution{border-left:.5rem solid var(--misfit);font-weight:600;overflow-wrap:anywhere}
.sign{font-weight:700;color:var(--hue)}
.remark{margin:.3rem 0;color:var(--soft);overflow-wrap:anywhere}
figure{margin:1rem 0 0}figure a{display:block}figure img{display:block;width:100%;height:auto;border-radius:.4rem;background:#0d1115}
.rack{display:grid;grid-template-columns:repeat(auto-fill,minmax(15rem,1fr));gap:.5rem}
.rack>li{border:2px solid var(--hue);border-radius:.4rem;padding:.4rem .7rem;background:var(--card);overflow-wrap:anywhere}
.rack>.empty{border-style:dashed}.rack>.doubtful{border-style:dotted}.rack>.mismatch{border-style:double;border-width:4px}
.rack .slot{display:flex;gap:.5rem;justify-content:space-between;font-weight:700}.rack .slot span:last-child{color:var(--hue)}
.rack .piece{font-size:1.25rem;min-height:1.4em}.rack .piece small{color:var(--soft)}
.marks{display:flex;flex-wrap:wrap;gap:.3rem;margin-top:.3rem}.marks button{flex:1;white-space:nowrap}
button,.pick,.get,select,input,textarea{font:inherit;color:var(--ink)}
button,.pick,.get{display:inline-block;min-height:3rem;padding:.65rem 1.1rem;border:2px solid var(--ink);border-radius:.5rem;background:var(--card);font-weight:700;cursor:pointer;text-align:center;text-decoration:none}
.main{background:var(--ink);color:var(--paper);border-color:var(--ink);font-size:1.3rem}
button:disabled{opacity:.45;cursor:default}
.marks button{min-height:2.75rem;padding:.3rem .7rem;border-width:1px;font-weight:500;font-size:1rem}.marks button[aria-pressed=true]{background:var(--ink);color:var(--paper)}
.acts{display:flex;flex-wrap:wrap;gap:.6rem;align-items:center;margin-top:.8rem}
.pick{position:relative;display:block;width:100%;margin-top:.6rem}.pick input{position:absolute;inset:0;opacity:0;cursor:pointer;width:100%}
select,input:not([type=file]),textarea{width:100%;min-height:2.8rem;padding:.4rem .6rem;border:2px solid var(--line);border-radius:.4rem;background:var(--paper)}
label.field{display:block;margin-top:.6rem;color:var(--soft)}
.snap{display:grid;grid-template-columns:1fr 7.5rem;gap:.5rem;margin-top:.6rem}.snap label{color:var(--soft);display:flex;gap:.4rem;align-items:center}
#count{position:fixed;inset:0;display:grid;place-items:center;font-size:min(60vw,60vh);font-weight:800;background:color-mix(in srgb,var(--paper) 80%,transparent);pointer-events:none;z-index:2}
#note{border-left:.5rem solid var(--mismatch);font-weight:700}
.care{border-left:.4rem solid var(--misfit);padding:.1rem 0 .1rem .8rem;margin:.8rem 0 0;color:var(--ink);font-size:1rem}
.care ul{margin:.2rem 0;padding-left:1.1rem}.care p{margin:.2rem 0}.care h2{font-size:1.05rem}
progress{width:100%;height:1.1rem;accent-color:var(--ready)}
.big{font-size:1.6rem;font-weight:700;margin:.2rem 0}
.loads li{display:flex;gap:.1rem .8rem;align-items:baseline;flex-wrap:wrap;padding:.35rem 0;border-top:1px solid var(--line)}.loads li:first-child{border:0}
.loads a{padding:.4rem 0;min-width:5rem}.loads .quiet{margin-left:auto}.quiet{color:var(--soft)}
.qr{display:block;width:100%;max-width:20rem;height:auto}.address{overflow-wrap:anywhere;user-select:all}
details summary{cursor:pointer;padding:.5rem 0;font-weight:600}
@media (max-width:62rem){.bench{grid-template-columns:minmax(0,1fr);padding:.6rem .7rem 8rem}
.hand{position:fixed;left:0;right:0;bottom:0;z-index:1;background:var(--paper);border-top:1px solid var(--line);padding:.1rem .7rem .6rem;display:grid;grid-template-columns:1fr 1fr;gap:0 .6rem}
.hand .snap{grid-column:1/3}.top{padding:.4rem .7rem}.rack:not(.over){grid-template-columns:repeat(auto-fill,minmax(9.5rem,1fr))}}
@media (prefers-reduced-motion:no-preference){.verdict{transition:border-color .2s}}
.list main{max-width:60rem;margin:0 auto;padding:1rem 1.2rem}.list table{border-collapse:collapse;width:100%}
.list th,.list td{text-align:left;border-bottom:1px solid var(--line);padding:.35rem .6rem}.list th{white-space:nowrap}.list td{overflow-wrap:anywhere}.list .box::before{content:"\25A1";font-size:1.4rem}
@media print{.hand,.skip,aside{display:none}.list{font-size:11pt}.list tr{break-inside:avoid}.list thead{display:table-header-group}}
)css";

}  // namespace

std::string style() { return page_palette() + kBenchStyle; }

}  // namespace jigtrue::bench
