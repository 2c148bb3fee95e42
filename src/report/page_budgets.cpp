#include "jigtrue/base/text.hpp"

#include <algorithm>

#include "report/page_parts.hpp"

namespace jigtrue::page {

namespace {

// The chart's own units are as large as a phone's pixels: its text is legible there and only a little larger elsewhere.
constexpr int kSharesWide = 340;
constexpr int kRow = 50;
constexpr int kBarsLong = 190;
constexpr int kTurnAt = 290;

std::string text_at(double x, double y, const std::string& markup) {
  return "<text x=\"" + fixed_text(x, 1) + "\" y=\"" + fixed_text(y, 1) + "\">" + markup + "</text>";
}

std::string bar(const char* css_class, double y, double value, double full) {
  const double length = full > 0.0 ? kBarsLong * value / full : 0.0;
  return std::string("<rect class=\"") + css_class + "\" x=\"1\" y=\"" + fixed_text(y, 1) + "\" width=\"" +
         fixed_text(std::max(1.0, length), 1) + "\" height=\"10\"/>" +
         text_at(std::max(1.0, length) + 8, y + 10, fixed_text(value, 3));
}

// `full`: the longest bar of all slots, so that lengths compare from slot to slot.
std::string shares_chart(const std::vector<BudgetShare>& shares, bool with_along, double full) {
  const int height = kRow * static_cast<int>(shares.size()) + 26;
  std::string out =
      "<svg role=\"img\" viewBox=\"0 0 " + std::to_string(kSharesWide) + " " + std::to_string(height) +
      "\"><title>Standard uncertainty by cause, in millimetres across and along, and in degrees; one scale "
      "for all slots</title>";
  out += "<rect class=\"x\" x=\"1\" y=\"4\" width=\"10\" height=\"10\"/>" + text_at(16, 14, "across, mm");
  if (with_along)
    out += "<rect class=\"y\" x=\"106\" y=\"5\" width=\"9\" height=\"9\"/>" + text_at(121, 14, "along, mm");
  out += text_at(kTurnAt, 14, "turn, &deg;");
  for (std::size_t i = 0; i < shares.size(); ++i) {
    const double y = 36.0 + kRow * static_cast<double>(i);
    out += text_at(0, y, markup_text(shares[i].name)) + bar("x", y + 5, shares[i].across_mm, full);
    if (with_along) out += bar("y", y + 18, shares[i].along_mm, full);
    out += text_at(kTurnAt, y + 15, fixed_text(shares[i].rotation_deg, 3));
  }
  return out + "</svg>";
}

double longest_share(const CheckResult& result) {
  double full = 0.0;
  for (const SlotResult& slot : result.slots) {
    if (!slot.numbers) continue;
    for (const BudgetShare& share : slot.numbers->budget)
      full = std::max({full, share.across_mm, slot.numbers->along_mm ? share.along_mm : 0.0});
  }
  return full;
}

std::string details(const SlotResult& slot, double full) {
  const SlotNumbers& n = *slot.numbers;
  const ExpandedUncertainty& u = n.uncertainty;
  std::string out =
      "<details><summary>Slot " + markup_text(slot.id) + ": <span class=\"nobreak\">&plusmn;&nbsp;" +
      fixed_text(u.across_mm, 2) + "&nbsp;mm</span> across, " +
      (u.along_mm ? "<span class=\"nobreak\">&plusmn;&nbsp;" + fixed_text(*u.along_mm, 2) + "&nbsp;mm</span> along"
                  : std::string("along not measured")) +
      ", <span class=\"nobreak\">&plusmn;&nbsp;" + fixed_text(u.rotation_deg, 2) + "&deg;</span></summary>\n";
  if (n.diameter_mm) {
    out += "<p>Diameter " + fixed_text(*n.diameter_mm, 2) + "&nbsp;mm";
    if (u.diameter_mm) out += " &plusmn;&nbsp;" + fixed_text(*u.diameter_mm, 2) + "&nbsp;mm";
    out += ".</p>\n";
  }
  if (!n.budget.empty()) out += shares_chart(n.budget, n.along_mm.has_value(), full) + "\n";
  return out + "</details>\n";
}

}  // namespace

std::string budgets(const CheckResult& result) {
  std::string out;
  const double full = longest_share(result);
  for (const SlotResult& slot : result.slots) {
    if (slot.numbers) out += details(slot, full);
  }
  return out;
}

}  // namespace jigtrue::page
