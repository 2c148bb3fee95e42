#include "jigtrue/layout/layout_svg.hpp"

#include "jigtrue/layout/text.hpp"

namespace jigtrue {

namespace {

std::string mm(double value) { return fixed_text(value, 3); }

std::string pair_mm(const Vector2d& point) { return mm(point.x()) + " " + mm(point.y()); }

std::string description(const Placement& placement, const std::optional<Machine>& machine) {
  const Page& page = placement.page;
  std::string text = "True millimetres. The page's lower-left corner is ";
  if (machine) {
    text += "the machine's front-left corner; the machine's own origin is its " +
            std::string(to_string(machine->origin_corner)) + " corner. ";
  } else {
    text +=
        "bed X " + mm(page.lower_left_mm.x()) + ", Y " + mm(page.lower_left_mm.y()) + " (no machine file was given). ";
  }
  text += "x is bed X less " + mm(page.lower_left_mm.x()) + "; y, running down, is " +
          mm(page.size_mm.y() + page.lower_left_mm.y()) + " less bed Y.";
  if (!placement.left_out.empty()) {
    text += " Left out:";
    for (const LeftOut& slot : placement.left_out) text += " slot " + slot.slot_id + " (" + slot.reason + ");";
    text.back() = '.';
  }
  return text;
}

std::string group(const PlacedDesign& placed) {
  std::string out = "<g id=\"" + placed.xml_id + "\" data-slot=\"" + markup_text(placed.slot_id) +
                    "\" data-bed-centre-mm=\"" + pair_mm(placed.bed_centre_mm) + "\" data-axis-deg=\"" +
                    fixed_text(placed.axis_deg, 4) + "\" transform=\"translate(" + pair_mm(placed.centre_mm) +
                    ") rotate(" + fixed_text(placed.turn_deg, 4) + ")\">\n<title>Slot " + markup_text(placed.slot_id) +
                    "</title>\n";
  if (placed.design) {
    const DesignBox& box = *placed.design;
    out += "<rect x=\"" + mm(-box.width_mm / 2) + "\" y=\"" + mm(-box.height_mm / 2) + "\" width=\"" +
           mm(box.width_mm) + "\" height=\"" + mm(box.height_mm) + "\"/>\n";
  }
  return out + "</g>\n";
}

}  // namespace

std::string layout_svg(const CheckResult& result, const std::optional<Machine>& machine) {
  const Placement placement = place_designs(result, machine);
  const std::string width = mm(placement.page.size_mm.x());
  const std::string height = mm(placement.page.size_mm.y());
  std::string out =
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"" +
      width + "mm\" height=\"" + height + "mm\" viewBox=\"0 0 " + width + " " + height + "\">\n";
  out += "<title>Layout: " + markup_text(result.fixture_name) + "</title>\n";
  out += "<desc>" + markup_text(description(placement, machine)) + "</desc>\n";
  out += "<g id=\"designs\" fill=\"none\" stroke=\"#000000\" stroke-width=\"0.1\">\n";
  for (const PlacedDesign& placed : placement.placed) out += group(placed);
  return out + "</g>\n</svg>\n";
}

}  // namespace jigtrue
