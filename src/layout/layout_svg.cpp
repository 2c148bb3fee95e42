#include "jigtrue/layout/layout_svg.hpp"

#include "jigtrue/base/text.hpp"

#include <array>

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
    text += "bed X " + mm(page.lower_left_mm.x()) + ", Y " + mm(page.lower_left_mm.y()) +
            " (no machine file was given). " + page_caution(page) + " ";
  }
  text += "x is bed X less " + mm(page.lower_left_mm.x()) + "; y, running down, is " +
          mm(page.size_mm.y() + page.lower_left_mm.y()) + " less bed Y.";
  if (placement.machine_applied) text += " Places and angles are corrected for the machine's own errors.";
  if (!placement.left_out.empty()) {
    text += " Left out:";
    for (const LeftOut& slot : placement.left_out) text += " slot " + slot.slot_id + " (" + slot.reason + ");";
    text.back() = '.';
  }
  return text;
}

std::string fine(double value) { return fixed_text(value, 4); }
std::string fine(const Vector2d& point) { return fine(point.x()) + " " + fine(point.y()); }

void append(std::string& d, char command, const Vector2d& point) {
  d += command;
  d += fine(point);
}

std::string path_text(const std::vector<SubPath>& outline) {
  std::string d;
  for (const SubPath& path : outline) {
    append(d, 'M', path.start);
    for (const PathSegment& s : path.segments) {
      if (s.cubic) {
        append(d, 'C', s.control_1);
        append(d, ' ', s.control_2);
        append(d, ' ', s.end);
      } else {
        append(d, 'L', s.end);
      }
    }
    if (path.closed) d += 'Z';
  }
  return d;
}

// One colour a pass, so that the machine's program can tell passes apart by colour as well as by group. Okabe and Ito's
// eight, which people with any colour vision tell apart (Color Universal Design, 2008), the dark ones first.
constexpr std::array<const char*, 8> kPassColours = {"#0072b2", "#d55e00", "#009e73", "#cc79a7",
                                                     "#e69f00", "#56b4e9", "#f0e442", "#000000"};

std::string shape_text(const InkShape& shape) {
  static constexpr const char* kCaps[] = {"butt", "round", "square"};
  static constexpr const char* kJoins[] = {"miter", "round", "bevel"};
  std::string out = "<path d=\"" + path_text(shape.outline) + "\" fill=\"" +
                    (shape.fill.empty() ? "none" : markup_text(shape.fill)) + "\"";
  if (!shape.fill.empty() && shape.even_odd) out += " fill-rule=\"evenodd\"";
  if (!shape.stroke) return out + " stroke=\"none\"/>\n";
  const Stroke& stroke = *shape.stroke;
  out += " stroke=\"" + markup_text(stroke.colour) + "\" stroke-width=\"" + fine(stroke.width_mm()) + "\"";
  if (stroke.cap != LineCap::butt)
    out += std::string(" stroke-linecap=\"") + kCaps[static_cast<int>(stroke.cap)] + "\"";
  if (stroke.join != LineJoin::miter)
    out += std::string(" stroke-linejoin=\"") + kJoins[static_cast<int>(stroke.join)] + "\"";
  else if (stroke.miter_limit != 4.0)
    out += " stroke-miterlimit=\"" + fine(stroke.miter_limit) + "\"";
  return out + "/>\n";
}

InkShape in_colour(InkShape shape, const std::string& colour) {
  if (!shape.fill.empty()) shape.fill = colour;
  if (shape.stroke) shape.stroke->colour = colour;
  return shape;
}

// A drawing that is no pass of several keeps the colours that it was drawn with.
std::string pass_text(const Pass& pass, std::size_t number, const std::string& slot_xml_id) {
  const std::string colour = kPassColours[number % kPassColours.size()];
  std::string shapes;
  for (const InkShape& shape : pass.shapes) shapes += shape_text(pass.name.empty() ? shape : in_colour(shape, colour));
  if (pass.name.empty()) return shapes;
  return "<g id=\"" + slot_xml_id + "-" + xml_name(pass.name) + "\" data-pass=\"" + markup_text(pass.name) +
         "\" stroke=\"" + colour + "\">\n" + shapes + "</g>\n";
}

std::string group(const PlacedDesign& placed) {
  std::string out = "<g id=\"" + placed.xml_id + "\" data-slot=\"" + markup_text(placed.slot_id) +
                    "\" data-bed-centre-mm=\"" + pair_mm(placed.bed_centre_mm) + "\" data-axis-deg=\"" +
                    fixed_text(placed.axis_deg, 4) + "\" transform=\"translate(" + pair_mm(placed.centre_mm) +
                    ") rotate(" + fixed_text(placed.turn_deg, 4) + ")\">\n<title>Slot " + markup_text(placed.slot_id) +
                    "</title>\n";
  if (placed.passes) {
    for (std::size_t i = 0; i < placed.passes->size(); ++i) out += pass_text((*placed.passes)[i], i, placed.xml_id);
  } else if (placed.design) {
    const DesignBox& box = *placed.design;
    out += "<rect x=\"" + mm(-box.width_mm / 2) + "\" y=\"" + mm(-box.height_mm / 2) + "\" width=\"" +
           mm(box.width_mm) + "\" height=\"" + mm(box.height_mm) + "\"/>\n";
  }
  return out + "</g>\n";
}

}  // namespace

std::string layout_svg(const CheckResult& result, const std::optional<Machine>& machine, const DesignArt& art) {
  return layout_svg(place_designs(result, machine, art), result.fixture_name, machine);
}

std::string layout_svg(const Placement& placement, const std::string& title, const std::optional<Machine>& machine) {
  const std::string width = mm(placement.page.size_mm.x());
  const std::string height = mm(placement.page.size_mm.y());
  std::string out =
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"" +
      width + "mm\" height=\"" + height + "mm\" viewBox=\"0 0 " + width + " " + height + "\">\n";
  out += "<title>Layout: " + markup_text(title) + (machine ? "" : " (the page is not the bed)") + "</title>\n";
  out += "<desc>" + markup_text(description(placement, machine)) + "</desc>\n";
  out += "<g id=\"designs\" fill=\"none\" stroke=\"#000000\" stroke-width=\"0.1\">\n";
  for (const PlacedDesign& placed : placement.placed) out += group(placed);
  return out + "</g>\n</svg>\n";
}

std::string artwork_svg(const std::vector<Pass>& passes) {
  const InkBox ink = ink_of(passes);
  const Vector2d half = ink.low.cwiseAbs().cwiseMax(ink.high.cwiseAbs()).array() + 1.0;
  const std::string size = "width=\"" + fine(2.0 * half.x()) + "mm\" height=\"" + fine(2.0 * half.y()) + "mm\"";
  std::string out = "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" " + size + " viewBox=\"" + fine(-half) +
                    " " + fine(2.0 * half) + "\">\n";
  for (std::size_t i = 0; i < passes.size(); ++i) out += pass_text(passes[i], i, "drawing");
  return out + "</svg>\n";
}

}  // namespace jigtrue
