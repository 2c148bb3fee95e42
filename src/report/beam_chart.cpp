#include "report/beam_chart.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/inspection/apply_beam.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace jigtrue::page {
namespace {

struct Dot {
  double value = 0.0;
  double u = 0.0;
};

// px of the drawing: as wide as a phone shows it, so that its text keeps its size there.
constexpr double kChartWide = 340.0;
constexpr double kChartHigh = 150.0;
constexpr double kNumbersWide = 52.0;
constexpr double kRoom = 10.0;
constexpr double kNamesHigh = 30.0;

class BeamScale {
 public:
  BeamScale(const std::vector<Dot>& dots, double least) : count_(dots.size()) {
    for (const Dot& dot : dots) {
      low_ = std::min(low_, dot.value - dot.u);
      high_ = std::max(high_, dot.value + dot.u);
    }
    const double short_by = std::max(0.0, least - (high_ - low_));
    low_ -= 0.5 * short_by;
    high_ += 0.5 * short_by;
    const double span = high_ - low_;
    const double power = std::pow(10.0, std::floor(std::log10(span / 3.0)));
    step_ = span / (5.0 * power) >= 3.0 ? 5.0 * power : span / (2.0 * power) >= 3.0 ? 2.0 * power : power;
    low_ = step_ * std::floor(low_ / step_);
    high_ = step_ * std::ceil(high_ / step_);
  }
  [[nodiscard]] double x(std::size_t i) const {
    const double share = count_ > 1 ? static_cast<double>(i) / static_cast<double>(count_ - 1) : 0.5;
    return kNumbersWide + kRoom + share * (kChartWide - kNumbersWide - 2.0 * kRoom);
  }
  [[nodiscard]] double y(double value) const {
    return kRoom + (high_ - value) / (high_ - low_) * (kChartHigh - kRoom - kNamesHigh);
  }
  [[nodiscard]] std::string grid() const {
    const int decimals = std::max(0, static_cast<int>(std::ceil(-std::log10(step_) - 1e-9)));
    std::string out;
    const int steps = static_cast<int>(std::lround((high_ - low_) / step_));
    for (int k = 0; k <= steps; ++k) {
      const double value = low_ + k * step_;
      out += "<path class=\"grid\" d=\"M" + fixed_text(kNumbersWide, 0) + " " + fixed_text(y(value), 1) + "H" +
             fixed_text(kChartWide, 0) + "\"/><text x=\"" + fixed_text(kNumbersWide - 5.0, 0) + "\" y=\"" +
             fixed_text(y(value) + 4.0, 1) + "\" text-anchor=\"end\">" + signed_text(value, decimals) + "</text>";
    }
    const std::size_t pace = std::max<std::size_t>(1, (count_ + 7) / 8);
    for (std::size_t i = 0; i < count_; i += pace)
      out += "<text x=\"" + fixed_text(x(i), 1) + "\" y=\"" + fixed_text(kChartHigh - 16.0, 0) +
             "\" text-anchor=\"middle\">" + std::to_string(i + 1) + "</text>";
    return out + "<text x=\"" + fixed_text((kNumbersWide + kChartWide) / 2.0, 0) + "\" y=\"" +
           fixed_text(kChartHigh - 2.0, 0) + "\" text-anchor=\"middle\">load</text>";
  }

 private:
  std::size_t count_;
  double low_ = 1e9;
  double high_ = -1e9;
  double step_ = 1.0;
};

std::string beam_chart(const std::string& title, const std::vector<Dot>& dots, const Dot& all, double least,
                       const char* unit, int decimals) {
  const BeamScale scale(dots, least);
  std::string out =
      "<figure><figcaption>" + title + "<small>all together " + signed_text(all.value, decimals) + " &plusmn;&nbsp;" +
      fixed_text(all.u, decimals) + "&nbsp;" + unit + "</small></figcaption><svg viewBox=\"0 0 " +
      fixed_text(kChartWide, 0) + " " + fixed_text(kChartHigh, 0) + "\" role=\"img\" aria-label=\"" + title +
      " over the loads\">" + scale.grid() + "<rect class=\"all\" x=\"" + fixed_text(kNumbersWide, 0) + "\" width=\"" +
      fixed_text(kChartWide - kNumbersWide, 0) + "\" y=\"" + fixed_text(scale.y(all.value + all.u), 1) +
      "\" height=\"" + fixed_text(std::max(1.0, scale.y(all.value - all.u) - scale.y(all.value + all.u)), 1) + "\"/>";
  for (std::size_t i = 0; i < dots.size(); ++i) {
    const std::string x = fixed_text(scale.x(i), 1);
    out.append("<path class=\"within\" d=\"M" + x + " ")
        .append(fixed_text(scale.y(dots[i].value - dots[i].u), 1) + "V")
        .append(fixed_text(scale.y(dots[i].value + dots[i].u), 1))
        .append("\"/><circle class=\"at\" r=\"3.5\" cx=\"" + x + "\" cy=\"")
        .append(fixed_text(scale.y(dots[i].value), 1))
        .append("\"><title>load " + std::to_string(i + 1) + ": ")
        .append(signed_text(dots[i].value, decimals) + " " + unit + "</title></circle>");
  }
  return out + "</svg></figure>\n";
}

}  // namespace

std::string beam_chart_style() {
  return ".beam{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,20rem),1fr));gap:1rem}\n"
         ".beam figure{margin:0;background:var(--card);border:1px solid var(--line);border-radius:.3rem;"
         "padding:.6rem}\n"
         ".beam figcaption{font-weight:600}.beam small{display:block;font-weight:400;color:var(--soft)}\n"
         ".beam svg{width:100%;height:auto;display:block}.beam svg text{fill:var(--soft);font-size:12px}\n"
         ".beam .grid{stroke:var(--line);fill:none}.beam .within{stroke:var(--ink);stroke-width:1.5}\n"
         ".beam .at{fill:var(--ink)}.beam .all{fill:var(--ready);opacity:.25}\n";
}

std::string beam_over_loads(const std::vector<BurnRecord>& loads) {
  std::vector<BeamOffset> offsets;
  const auto last =
      std::find_if(loads.rbegin(), loads.rend(), [](const BurnRecord& load) { return load.beam.has_value(); });
  if (last == loads.rend()) return {};
  for (const BurnRecord& load : loads)
    if (load.beam && load.beam->machine_applied == last->beam->machine_applied) offsets.push_back(*load.beam);
  if (offsets.size() < 2) return {};
  const BeamOffset all = combined(offsets);
  std::vector<Dot> x;
  std::vector<Dot> y;
  std::vector<Dot> turn;
  for (const BeamOffset& offset : offsets) {
    x.push_back({offset.shift_mm.x(), offset.shift_u_mm.x()});
    y.push_back({offset.shift_mm.y(), offset.shift_u_mm.y()});
    turn.push_back({offset.turn_deg, offset.turn_u_deg});
  }
  constexpr double kLeast_mm = 0.05;
  constexpr double kLeast_deg = 0.02;
  return "<section aria-labelledby=\"beam\"><h2 id=\"beam\">The beam, load by load</h2>\n<p class=\"quiet\">Where it "
         "lands from where the camera has it, by " +
         std::to_string(offsets.size()) +
         " loads of this jig; bars hold the truth 95 times in 100, the band is what all say together.</p>\n"
         "<div class=\"beam\">\n" +
         beam_chart("Beam to the right (X)", x, {all.shift_mm.x(), all.shift_u_mm.x()}, kLeast_mm, "mm", 3) +
         beam_chart("Beam away from you (Y)", y, {all.shift_mm.y(), all.shift_u_mm.y()}, kLeast_mm, "mm", 3) +
         beam_chart("Beam turned, counter-clockwise", turn, {all.turn_deg, all.turn_u_deg}, kLeast_deg, "deg", 3) +
         "</div></section>\n";
}

}  // namespace jigtrue::page
