#include "jigtrue/base/text.hpp"
#include "jigtrue/report/local_time.hpp"
#include "jigtrue/report/trend_pages.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace jigtrue {
namespace {

constexpr const char* kTrendStyle =
    ":root{color-scheme:light dark;--paper:#faf8f3;--card:#fff;--ink:#17212b;--soft:#515c67;--line:#d8d3c7;"
    "--mark:#005f7d;--out:#9c3c00}\n"
    "@media (prefers-color-scheme:dark){:root{--paper:#12171c;--card:#1a2128;--ink:#eeebe4;--soft:#abb5bf;"
    "--line:#36414b;--mark:#74d6ff;--out:#ffa469}}\n"
    "body{margin:0 auto;max-width:72rem;padding:1rem;background:var(--paper);color:var(--ink);"
    "font:1rem/1.5 \"Segoe UI\",Ubuntu,Cantarell,Roboto,\"Noto Sans\",sans-serif}\n"
    "h1{font-size:1.5rem}h2{font-size:1.2rem;margin-top:2rem}.quiet{color:var(--soft)}\n"
    ".charts{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,20rem),1fr));gap:1rem}\n"
    "figure{margin:0;background:var(--card);border:1px solid var(--line);border-radius:.3rem;padding:.6rem}\n"
    "figcaption{font-weight:600}figcaption small{display:block;font-weight:400;color:var(--soft)}\n"
    "svg{width:100%;height:auto;display:block}svg "
    "text{fill:var(--soft);font-size:12px}.grid{stroke:var(--line);stroke-width:1}\n"
    ".mean{stroke:var(--ink);stroke-width:1}.limit{stroke:var(--soft);stroke-width:1;stroke-dasharray:4 3}\n"
    ".run{fill:none;stroke:var(--mark);stroke-width:1.5}.at{fill:var(--mark)}.at.out{fill:var(--out)}\n"
    "@media print{figure{break-inside:avoid}}\n";

// The chart's own frame, px of the drawing: as wide as a phone shows it, so that its text keeps its size there.
constexpr double kWidth = 340.0;
constexpr double kHeight = 170.0;
constexpr double kChartLeft = 50.0;
constexpr double kChartBelow = 34.0;
constexpr double kChartEdge = 10.0;
constexpr std::size_t kFewestToDraw = 3;  // two dots show nothing

struct Scale {
  double low = 0.0;
  double high = 1.0;
  double step = 0.5;  // of the grid: 1, 2 or 5 times a power of ten
  std::size_t loads = 1;
  [[nodiscard]] double x(std::size_t load) const {
    const double share = loads > 1 ? static_cast<double>(load) / static_cast<double>(loads - 1) : 0.5;
    return kChartLeft + kChartEdge + share * (kWidth - kChartLeft - 2.0 * kChartEdge);
  }
  [[nodiscard]] double y(double value) const {
    return kChartEdge + (high - value) / (high - low) * (kHeight - kChartEdge - kChartBelow);
  }
  [[nodiscard]] int decimals() const { return std::max(0, static_cast<int>(std::ceil(-std::log10(step) - 1e-9))); }
};

double round_step(double span) {
  constexpr double kFewestSteps = 3.0;
  const double power = std::pow(10.0, std::floor(std::log10(span / kFewestSteps)));
  for (const double factor : {5.0, 2.0})
    if (span / (factor * power) >= kFewestSteps) return factor * power;
  return power;
}

// One scale for all series of one kind, so that slots compare at a glance.
Scale axis_scale(const std::vector<const Series*>& kind, std::size_t loads, double least_span) {
  Scale scale;
  scale.loads = loads;
  scale.low = 1e9;
  scale.high = -1e9;
  for (const Series* series : kind) {
    if (series->values.empty()) continue;
    const auto [low, high] = std::minmax_element(series->values.begin(), series->values.end());
    scale.low = std::min({scale.low, *low, series->low.value_or(*low), series->mean - 0.5 * least_span});
    scale.high = std::max({scale.high, *high, series->high.value_or(*high), series->mean + 0.5 * least_span});
  }
  if (scale.low > scale.high) scale.low = 0.0, scale.high = least_span;
  scale.step = round_step(scale.high - scale.low);
  scale.low = scale.step * std::floor(scale.low / scale.step + 1e-9);
  scale.high = scale.step * std::ceil(scale.high / scale.step - 1e-9);
  return scale;
}

std::string level(const Scale& scale, double value, const char* kind) {
  const std::string y = fixed_text(scale.y(value), 1);
  return "<line class=\"" + std::string(kind) + "\" x1=\"" + fixed_text(kChartLeft, 0) + "\" x2=\"" +
         fixed_text(kWidth, 0) + "\" y1=\"" + y + "\" y2=\"" + y + "\"/>";
}

std::string grid(const Scale& scale, const std::string& unit) {
  std::string out;
  for (double value = scale.low; value <= scale.high + 0.5 * scale.step; value += scale.step)
    out += level(scale, value, "grid") + "<text x=\"" + fixed_text(kChartLeft - 5.0, 0) + "\" y=\"" +
           fixed_text(scale.y(value), 1) + "\" text-anchor=\"end\" dominant-baseline=\"central\">" +
           signed_text(value, scale.decimals()) + "</text>";
  out += "<text x=\"0\" y=\"" + fixed_text(kHeight - 6.0, 0) + "\">" + unit + "</text>";
  const std::size_t pace = std::max<std::size_t>(1, (scale.loads + 7) / 8);
  for (std::size_t load = 0; load < scale.loads; load += pace)
    out += "<text x=\"" + fixed_text(scale.x(load), 1) + "\" y=\"" + fixed_text(kHeight - 18.0, 0) +
           "\" text-anchor=\"middle\">" + std::to_string(load + 1) + "</text>";
  return out + "<text x=\"" + fixed_text((kChartLeft + kWidth) / 2.0, 0) + "\" y=\"" + fixed_text(kHeight - 4.0, 0) +
         "\" text-anchor=\"middle\">load</text>";
}

std::string levels(const Scale& scale, const Series& series) {
  std::string out = level(scale, series.mean, "mean");
  if (series.low) out += level(scale, *series.low, "limit") + level(scale, *series.high, "limit");
  return out;
}

// A chart of one figure over the loads; nothing when it was never measured.
std::string chart(const std::string& title, const Series& series, const Scale& scale, const std::string& unit,
                  int decimals) {
  if (series.values.empty()) return {};
  std::string points;
  std::string dots;
  for (std::size_t i = 0; i < series.values.size(); ++i) {
    const std::string x = fixed_text(scale.x(series.at[i]), 1);
    const std::string y = fixed_text(scale.y(series.values[i]), 1);
    const bool out = series.low && (series.values[i] < *series.low || series.values[i] > *series.high);
    points.append(x).append(",").append(y).append(" ");
    dots += out ? "<circle class=\"at out\" r=\"4.5\"" : "<circle class=\"at\" r=\"3\"";
    dots.append(" cx=\"").append(x).append("\" cy=\"").append(y).append("\"><title>load ");
    dots.append(std::to_string(series.at[i] + 1)).append(": ").append(signed_text(series.values[i], decimals));
    dots.append(" ").append(unit).append("</title></circle>");
  }
  std::string out = "<figure><figcaption>" + markup_text(title) + "<small>mean " + signed_text(series.mean, decimals) +
                    "&nbsp;" + unit + ", spread " + fixed_text(series.spread, decimals) +
                    (series.last_is_out() ? ", the last lies outside its limits" : "") +
                    "</small></figcaption><svg viewBox=\"0 0 " + fixed_text(kWidth, 0) + " " + fixed_text(kHeight, 0) +
                    "\" role=\"img\" aria-label=\"" + markup_text(title) + " over the loads\">" + grid(scale, unit) +
                    levels(scale, series);
  return out + "<polyline class=\"run\" points=\"" + points + "\"/>" + dots + "</svg></figure>\n";
}

// The slots' figures of one kind.
std::vector<const Series*> all_of(const Trend& trend, Series SlotTrend::*kind) {
  std::vector<const Series*> out;
  for (const SlotTrend& slot : trend.slots) out.push_back(&(slot.*kind));
  return out;
}

std::string charts(const Trend& trend) {
  const std::size_t n = trend.loads.size();
  const auto alone = [&](const Series& series, double least_span) { return axis_scale({&series}, n, least_span); };
  std::string out = "<div class=\"charts\">\n";
  out += chart("Camera: largest drift of a bed mark", trend.drift_px, alone(trend.drift_px, 0.2), "px", 2);
  const Scale shift = axis_scale({&trend.shift_x_mm, &trend.shift_y_mm}, n, 0.2);
  out += chart("Fixture: shift to the right", trend.shift_x_mm, shift, "mm", 2);
  out += chart("Fixture: shift away from you", trend.shift_y_mm, shift, "mm", 2);
  out += chart("Fixture: turn", trend.turn_deg, alone(trend.turn_deg, 0.1), "deg", 3);
  const Scale across = axis_scale(all_of(trend, &SlotTrend::across_mm), n, 0.2);
  const Scale along = axis_scale(all_of(trend, &SlotTrend::along_mm), n, 0.5);
  const Scale turn = axis_scale(all_of(trend, &SlotTrend::turn_deg), n, 0.2);
  for (const SlotTrend& slot : trend.slots) {
    out += chart("Slot " + slot.id + ": across", slot.across_mm, across, "mm", 2);
    out += chart("Slot " + slot.id + ": along", slot.along_mm, along, "mm", 2);
    out += chart("Slot " + slot.id + ": turn", slot.turn_deg, turn, "deg", 2);
  }
  return out + "</div>\n";
}

std::string section(const Trend& trend) {
  const std::size_t n = trend.loads.size();
  std::string out = "<h2>" + markup_text(trend.fixture) + "</h2>\n<p class=\"quiet\">" + std::to_string(n) +
                    (n == 1 ? " load, " : " loads, ") + markup_text(local_time(trend.loads.front().time)) + " to " +
                    markup_text(local_time(trend.loads.back().time)) + "</p>\n";
  if (n < kFewestToDraw) return out + "<p>There is nothing to see yet: charts begin with the third load.</p>\n";
  return out + charts(trend);
}

}  // namespace

std::string trend_html(const std::vector<Trend>& trends) {
  std::string out =
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta "
      "http-equiv=\"Content-Security-Policy\" "
      "content=\"default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'\">\n<meta "
      "name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>Trend over the "
      "loads</title>\n<style>" +
      std::string(kTrendStyle) +
      "</style>\n</head>\n<body>\n<main>\n<h1>Trend over the loads</h1>\n<p>Each dot is one load; the line is the "
      "mean, the "
      "dashed lines are the limits within which single loads are expected to vary by chance (mean &plusmn; 2.66 mean "
      "moving "
      "ranges, from eight loads on). Charts of one kind share one scale. Slots are measured against the fixture as its "
      "own marks place it, where it has "
      "marks.</p>\n";
  if (!trends.empty() && trends.front().damaged > 0)
    out += "<p>" + std::to_string(trends.front().damaged) + " damaged lines of the record were passed over.</p>\n";
  for (const Trend& trend : trends) out += section(trend);
  return out + "</main>\n</body>\n</html>\n";
}

}  // namespace jigtrue
