#include "jigtrue/base/text.hpp"
#include "jigtrue/report/trend_pages.hpp"

#include <algorithm>
#include <cmath>

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
    "svg{width:100%;height:auto;display:block}svg text{fill:var(--soft);font-size:11px}\n"
    ".mean{stroke:var(--ink);stroke-width:1}.limit{stroke:var(--soft);stroke-width:1;stroke-dasharray:4 3}\n"
    ".run{fill:none;stroke:var(--mark);stroke-width:1.5}.at{fill:var(--mark)}.at.out{fill:var(--out)}\n"
    "@media print{figure{break-inside:avoid}}\n";

// The chart's own frame, px of the drawing.
constexpr double kWidth = 360.0;
constexpr double kHeight = 130.0;
constexpr double kLeft = 44.0;
constexpr double kEdge = 8.0;

struct Scale {
  double low = 0.0;
  double high = 1.0;
  std::size_t loads = 1;
  [[nodiscard]] double x(std::size_t load) const {
    const double share = loads > 1 ? static_cast<double>(load) / static_cast<double>(loads - 1) : 0.5;
    return kLeft + kEdge + share * (kWidth - kLeft - 2.0 * kEdge);
  }
  [[nodiscard]] double y(double value) const { return kEdge + (high - value) / (high - low) * (kHeight - 2.0 * kEdge); }
};

Scale axis_scale(const Series& series, std::size_t loads, double least_span) {
  Scale scale;
  scale.loads = loads;
  const auto [low, high] = std::minmax_element(series.values.begin(), series.values.end());
  scale.low = std::min({*low, series.low.value_or(*low), series.mean - 0.5 * least_span});
  scale.high = std::max({*high, series.high.value_or(*high), series.mean + 0.5 * least_span});
  return scale;
}

std::string level(const Scale& scale, double value, const char* kind) {
  const std::string y = fixed_text(scale.y(value), 1);
  return "<line class=\"" + std::string(kind) + "\" x1=\"" + fixed_text(kLeft, 0) + "\" x2=\"" + fixed_text(kWidth, 0) +
         "\" y1=\"" + y + "\" y2=\"" + y + "\"/>";
}

std::string level_name(const Scale& scale, double value, int decimals) {
  return "<text x=\"" + fixed_text(kLeft - 4.0, 0) + "\" y=\"" + fixed_text(scale.y(value), 1) +
         "\" text-anchor=\"end\" dominant-baseline=\"central\">" + signed_text(value, decimals) + "</text>";
}

std::string levels(const Scale& scale, const Series& series, int decimals) {
  std::string out = level(scale, series.mean, "mean") + level_name(scale, series.mean, decimals);
  if (!series.low) return out;
  out += level(scale, *series.low, "limit") + level(scale, *series.high, "limit");
  constexpr double kTextHeight = 12.0;
  if (scale.y(*series.low) - scale.y(series.mean) > kTextHeight)
    out += level_name(scale, *series.low, decimals) + level_name(scale, *series.high, decimals);
  return out;
}

// A chart of one figure over the loads; nothing when it was never measured.
std::string chart(const std::string& title, const Series& series, std::size_t loads, const std::string& unit,
                  int decimals, double least_span) {
  if (series.values.empty()) return {};
  const Scale scale = axis_scale(series, loads, least_span);
  std::string points;
  std::string dots;
  for (std::size_t i = 0; i < series.values.size(); ++i) {
    const std::string x = fixed_text(scale.x(series.at[i]), 1);
    const std::string y = fixed_text(scale.y(series.values[i]), 1);
    const bool out = series.low && (series.values[i] < *series.low || series.values[i] > *series.high);
    points.append(x).append(",").append(y).append(" ");
    dots += out ? "<circle class=\"at out\" r=\"4.5\"" : "<circle class=\"at\" r=\"2.5\"";
    dots.append(" cx=\"").append(x).append("\" cy=\"").append(y).append("\"><title>load ");
    dots.append(std::to_string(series.at[i] + 1)).append(": ").append(signed_text(series.values[i], decimals));
    dots.append(" ").append(unit).append("</title></circle>");
  }
  std::string out = "<figure><figcaption>" + markup_text(title) + "<small>mean " + signed_text(series.mean, decimals) +
                    "&nbsp;" + unit + ", spread " + fixed_text(series.spread, decimals) +
                    (series.last_is_out() ? ", the last lies outside its limits" : "") +
                    "</small></figcaption><svg viewBox=\"0 0 " + fixed_text(kWidth, 0) + " " + fixed_text(kHeight, 0) +
                    "\" role=\"img\" aria-label=\"" + markup_text(title) + " over the loads\">" +
                    levels(scale, series, decimals);
  return out + "<polyline class=\"run\" points=\"" + points + "\"/>" + dots + "</svg></figure>\n";
}

std::string section(const Trend& trend) {
  const std::size_t n = trend.loads.size();
  std::string out = "<h2>" + markup_text(trend.fixture) + "</h2>\n<p class=\"quiet\">" + std::to_string(n) +
                    (n == 1 ? " load, " : " loads, ") + markup_text(trend.loads.front().time) + " to " +
                    markup_text(trend.loads.back().time) + "</p>\n<div class=\"charts\">\n";
  out += chart("Camera: largest drift of a bed mark", trend.drift_px, n, "px", 2, 0.2);
  out += chart("Fixture: shift to the right", trend.shift_x_mm, n, "mm", 2, 0.2);
  out += chart("Fixture: shift away from you", trend.shift_y_mm, n, "mm", 2, 0.2);
  out += chart("Fixture: turn", trend.turn_deg, n, "deg", 3, 0.1);
  for (const SlotTrend& slot : trend.slots) {
    out += chart("Slot " + slot.id + ": across", slot.across_mm, n, "mm", 2, 0.2);
    out += chart("Slot " + slot.id + ": along", slot.along_mm, n, "mm", 2, 0.5);
    out += chart("Slot " + slot.id + ": turn", slot.turn_deg, n, "deg", 2, 0.2);
  }
  return out + "</div>\n";
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
      "ranges, from eight loads on). Slots are measured against the fixture as its own marks place it, where it has "
      "marks.</p>\n";
  if (!trends.empty() && trends.front().damaged > 0)
    out += "<p>" + std::to_string(trends.front().damaged) + " damaged lines of the record were passed over.</p>\n";
  for (const Trend& trend : trends) out += section(trend);
  return out + "</main>\n</body>\n</html>\n";
}

}  // namespace jigtrue
