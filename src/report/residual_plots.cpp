#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>

#include "report/calibration_parts.hpp"

namespace jigtrue::page {

std::string coordinate(double value) { return fixed_text(value, 1); }

namespace {

std::string plot_text(double x, double y, const std::string& markup, const char* anchor = "start") {
  return "<text x=\"" + coordinate(x) + "\" y=\"" + coordinate(y) + "\" text-anchor=\"" + anchor + "\">" + markup +
         "</text>";
}

// 1, 2 or 5 times a power of ten, the largest that is no more than the value.
double round_number(double value) {
  const double power = std::pow(10.0, std::floor(std::log10(value)));
  const double lead = value / power;
  return power * (lead >= 5.0 ? 5.0 : (lead >= 2.0 ? 2.0 : 1.0));
}

int decimals_of(double value) { return std::max(0, static_cast<int>(std::ceil(-std::log10(value) - 1e-9))); }
std::string plain_value(double value) { return fixed_text(value, decimals_of(value)); }

double quantile(std::vector<double> values, double share) {
  if (values.empty()) return 0.0;
  const auto at = static_cast<std::size_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(at), values.end());
  return values[at];
}

double typical_length(const ResidualSet& set) {
  std::vector<double> lengths;
  for (const Vector2d& residual : set.residuals_px) lengths.push_back(residual.norm());
  return std::max(quantile(lengths, 0.95), 1e-6);
}

struct Ring {
  double sum = 0.0;
  double squares = 0.0;
  int count = 0;
  void add(double value) {
    sum += value;
    squares += value * value;
    ++count;
  }
  [[nodiscard]] double mean() const { return sum / count; }
  [[nodiscard]] double error() const {  // standard error of the mean
    return std::sqrt(std::max(squares / count - mean() * mean(), 0.0) / std::max(count - 1, 1));
  }
};

}  // namespace

std::string residual_arrows(const ResidualSet& set) {
  const double scale = kPlotWide / set.width_px;
  const double high = scale * set.height_px;
  const double typical = typical_length(set);
  const double factor = round_number(0.05 * set.width_px / typical);
  const double sample = round_number(typical);
  std::string lines;
  std::string dots;
  for (std::size_t i = 0; i < set.px.size(); ++i) {
    const Vector2d at = scale * (set.px[i] + Vector2d(0.5, 0.5));
    // a wild one is drawn cut short rather than across the whole picture
    const double cut = std::min(1.0, 4.0 * typical / std::max(set.residuals_px[i].norm(), 1e-12));
    const Vector2d by = scale * factor * cut * set.residuals_px[i];
    lines += "M" + coordinate(at.x()) + " " + coordinate(at.y()) + "l" + coordinate(by.x()) + " " + coordinate(by.y());
    dots += "M" + coordinate(at.x()) + " " + coordinate(at.y()) + "h0";
  }
  std::string out = "<figure class=\"plot\"><svg role=\"img\" viewBox=\"-1 -1 602 " + coordinate(high + 34.0) +
                    "\"><title>Residuals, magnified " + plain_value(factor) +
                    " times, in the picture</title><rect class=\"frame\" width=\"600\" height=\"" + coordinate(high) +
                    "\"/><path class=\"arrow\" d=\"" + lines + "\"/><path class=\"dot\" d=\"" + dots + "\"/>";
  const double length = scale * factor * sample;
  out += "<path class=\"arrow\" d=\"M4 " + coordinate(high + 20.0) + "h" + coordinate(length) +
         "\"/><path class=\"dot\" d=\"M4 " + coordinate(high + 20.0) + "h0\"/>" +
         plot_text(12.0 + length, high + 25.0,
                   plain_value(sample) + " px, drawn " + plain_value(factor) + " times as long");
  return out + "</svg><figcaption>Dot: the corner as predicted. Line: to where it was seen.</figcaption></figure>\n";
}

std::string residual_by_radius(const ResidualSet& set, const Vector2d& axis_px) {
  constexpr int kRings = 12;
  constexpr double kAxis = 88.0;  // letters grow on a phone
  constexpr double kHigh = 230.0;
  std::vector<double> radius(set.px.size());
  std::vector<double> outward(set.px.size());
  double farthest = 1.0;
  for (std::size_t i = 0; i < set.px.size(); ++i) {
    const Vector2d from = set.px[i] - axis_px;
    radius[i] = from.norm();
    outward[i] = radius[i] > 0.0 ? set.residuals_px[i].dot(from) / radius[i] : 0.0;
    farthest = std::max(farthest, radius[i]);
  }
  std::vector<double> sizes;
  sizes.reserve(outward.size());
  for (const double value : outward) sizes.push_back(std::abs(value));
  const double step = round_number(std::max(quantile(sizes, 0.98), 1e-6));
  const double reach = 2.0 * step;
  const auto x = [&](double r) { return kAxis + (kPlotWide - kAxis) * r / farthest; };
  const auto y = [&](double v) { return kHigh / 2.0 * (1.0 - std::clamp(v / reach, -1.0, 1.0)); };
  std::string dots;
  std::vector<Ring> rings(kRings);
  for (std::size_t i = 0; i < radius.size(); ++i) {
    dots += "M" + coordinate(x(radius[i])) + " " + coordinate(y(outward[i])) + "h0";
    rings[std::min<std::size_t>(kRings - 1, static_cast<std::size_t>(radius[i] / farthest * kRings))].add(outward[i]);
  }
  std::string band;
  std::string means;
  for (int i = 0; i < kRings; ++i) {
    const Ring& ring = rings[static_cast<std::size_t>(i)];
    if (ring.count < 3) continue;
    const double at = x(farthest * (i + 0.5) / kRings);
    const double half = 2.0 * ring.error();
    band += "M" + coordinate(at) + " " + coordinate(y(ring.mean() - half)) + "V" + coordinate(y(ring.mean() + half));
    means += (means.empty() ? "M" : "L") + coordinate(at) + " " + coordinate(y(ring.mean()));
  }
  std::string out =
      "<figure class=\"plot\"><svg role=\"img\" viewBox=\"-1 -8 626 268\"><title>Outward residual against the distance "
      "from the lens&#39;s axis</title><rect class=\"frame\" x=\"" +
      coordinate(kAxis) + "\" width=\"" + coordinate(kPlotWide - kAxis) + "\" height=\"230\"/>";
  for (const double value : {-step, 0.0, step}) {
    out += "<path class=\"rule\" d=\"M" + coordinate(kAxis) + " " + coordinate(y(value)) + "H600\"/>" +
           plot_text(kAxis - 6.0, y(value) + 5.0,
                     (value > 0.0 ? "+" : (value < 0.0 ? "&minus;" : "")) + (value == 0.0 ? "0" : plain_value(step)),
                     "end");
  }
  out += plot_text(kAxis - 6.0, 12.0, "px", "end");
  const double tick = round_number(farthest / 2.0);
  for (double r = tick; r <= farthest; r += tick) {
    out += "<path class=\"rule\" d=\"M" + coordinate(x(r)) + " 230v5\"/>" +
           plot_text(x(r), 250.0, plain_value(r), "middle");
  }
  out += "<path class=\"dot\" d=\"" + dots + "\"/><path class=\"band\" d=\"" + band + "\"/><path class=\"mean\" d=\"" +
         means + "\"/>";
  return out +
         "</svg><figcaption>Below: the distance from the axis, px. Line: mean over rings, bars: twice its "
         "error.</figcaption></figure>\n";
}

}  // namespace jigtrue::page
