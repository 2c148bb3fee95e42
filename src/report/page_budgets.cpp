#include "jigtrue/base/text.hpp"

#include <algorithm>

#include "report/page_parts.hpp"

namespace jigtrue::page {

namespace {

constexpr int kRow = 40;
constexpr int kBarsFrom = 150;
constexpr int kBarsLong = 220;

std::string text_at(double x, double y, const std::string& markup) {
  return "<text x=\"" + fixed_text(x, 1) + "\" y=\"" + fixed_text(y, 1) + "\">" + markup + "</text>";
}

std::string bar(const char* css_class, double y, double value, double full) {
  const double length = full > 0.0 ? kBarsLong * value / full : 0.0;
  return std::string("<rect class=\"") + css_class + "\" x=\"" + std::to_string(kBarsFrom) + "\" y=\"" +
         fixed_text(y, 1) + "\" width=\"" + fixed_text(std::max(1.0, length), 1) + "\" height=\"10\"/>" +
         text_at(kBarsFrom + std::max(1.0, length) + 8, y + 10, fixed_text(value, 3));
}

std::string shares_chart(const std::vector<BudgetShare>& shares, bool with_along) {
  double full = 0.0;
  for (const BudgetShare& share : shares) full = std::max({full, share.across_mm, with_along ? share.along_mm : 0.0});
  const int height = kRow * static_cast<int>(shares.size()) + 30;
  std::string out = "<svg role=\"img\" viewBox=\"0 0 560 " + std::to_string(height) +
                    "\"><title>Standard uncertainty by cause, in millimetres across and along, and in degrees</title>";
  out += "<rect class=\"x\" x=\"150\" y=\"4\" width=\"10\" height=\"10\"/>" + text_at(165, 14, "across, mm");
  if (with_along)
    out += "<rect class=\"y\" x=\"255\" y=\"5\" width=\"9\" height=\"9\"/>" + text_at(270, 14, "along, mm");
  out += text_at(460, 14, "turn, &deg;");
  for (std::size_t i = 0; i < shares.size(); ++i) {
    const double y = 28.0 + kRow * static_cast<double>(i);
    out += text_at(0, y + 16, markup_text(shares[i].name)) + bar("x", y, shares[i].across_mm, full);
    if (with_along) out += bar("y", y + 14, shares[i].along_mm, full);
    out += text_at(460, y + 16, fixed_text(shares[i].rotation_deg, 3));
  }
  return out + "</svg>";
}

std::string details(const SlotResult& slot) {
  const SlotNumbers& n = *slot.numbers;
  const ExpandedUncertainty& u = n.uncertainty;
  std::string out = "<details><summary>Slot " + markup_text(slot.id) + ": &plusmn;&nbsp;" + fixed_text(u.across_mm, 2) +
                    "&nbsp;mm across, " +
                    (u.along_mm ? "&plusmn;&nbsp;" + fixed_text(*u.along_mm, 2) + "&nbsp;mm along"
                                : std::string("along not measured")) +
                    ", &plusmn;&nbsp;" + fixed_text(u.rotation_deg, 2) + "&deg;</summary>\n";
  if (n.diameter_mm) {
    out += "<p>Diameter " + fixed_text(*n.diameter_mm, 2) + "&nbsp;mm";
    if (u.diameter_mm) out += " &plusmn;&nbsp;" + fixed_text(*u.diameter_mm, 2) + "&nbsp;mm";
    out += ".</p>\n";
  }
  if (!n.budget.empty()) out += shares_chart(n.budget, n.along_mm.has_value()) + "\n";
  return out + "</details>\n";
}

}  // namespace

std::string budgets(const CheckResult& result) {
  std::string out;
  for (const SlotResult& slot : result.slots) {
    if (slot.numbers) out += details(slot);
  }
  return out;
}

}  // namespace jigtrue::page
