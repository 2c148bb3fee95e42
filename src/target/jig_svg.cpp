#include "jigtrue/base/text.hpp"
#include "jigtrue/geometry/letters.hpp"
#include "jigtrue/target/jig_plan.hpp"

#include <string>

#include "target/target_parts.hpp"

namespace jigtrue {
namespace {

constexpr double kIdHeight_mm = 5.0;

std::string digits(double value) { return short_number(value, 4); }
std::string x_y(const Vector2d& point) { return digits(point.x()) + " " + digits(point.y()); }

// y up -> y down
std::string closed_path(const Polyline2d& outline) {
  std::string d;
  for (std::size_t i = 0; i < outline.size(); ++i) {
    d += i == 0 ? "M" : "L";
    d += x_y({outline[i].x(), -outline[i].y()});
  }
  return d + "Z";
}

std::string rectangle(const Vector2d& low, const Vector2d& high, double radius_mm) {
  const Vector2d size = high - low;
  std::string out = "<rect x=\"" + digits(low.x()) + "\" y=\"" + digits(-high.y()) + "\" width=\"" + digits(size.x()) +
                    "\" height=\"" + digits(size.y()) + "\"";
  if (radius_mm > 0.0) out += " rx=\"" + digits(radius_mm) + "\"";
  return out + "/>";
}

class Sheet {
 public:
  explicit Sheet(const JigPlan& plan) : plan_(plan) {}

  [[nodiscard]] std::string text() const {
    const Vector2d& size = plan_.machine.bed_mm;
    std::string out =
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" "
        "version=\"1.1\" width=\"" +
        digits(size.x()) + "mm\" height=\"" + digits(size.y()) + "mm\" viewBox=\"0 0 " + x_y(size) +
        "\">\n<title>Jig: " + markup_text(plan_.name) + "</title>\n<desc>" + markup_text(description()) + "</desc>\n";
    out += group("marks", "fill=\"#000000\" stroke=\"none\"", marks());
    out += group("ids", "fill=\"#000000\" fill-rule=\"evenodd\" stroke=\"none\"", ids());
    out += group("slots", "fill=\"none\" stroke=\"#0072b2\" stroke-width=\"0.1\"", slots());
    out += group("sheet", "fill=\"none\" stroke=\"#d55e00\" stroke-width=\"0.1\"", outline());
    return out + "</svg>\n";
  }

 private:
  const JigPlan& plan_;

  [[nodiscard]] std::string description() const {
    const Vector2d low = plan_.machine.front_left_mm();
    std::string text = "True millimetres; the page is the bed, its lower-left corner bed X " + digits(low.x()) +
                       ", Y " + digits(low.y()) + "; the machine's own origin is the " +
                       to_string(plan_.machine.origin_corner) +
                       " corner. In this order: burn marks and ids (black), cut slots (blue), cut the sheet "
                       "(vermilion) last.";
    for (const std::string& note : plan_.notes) text += " " + note;
    return text;
  }
  static std::string group(const std::string& id, const std::string& style, const std::string& shapes) {
    return "<g id=\"" + id + "\" " + style + ">\n" + shapes + "</g>\n";
  }
  [[nodiscard]] Vector2d page(const Vector2d& bed_mm) const {
    const Vector2d from_corner = bed_mm - plan_.machine.front_left_mm();
    return {from_corner.x(), plan_.machine.bed_mm.y() - from_corner.y()};
  }
  [[nodiscard]] std::string in_slot(const JigOpening& opening, const std::string& shape) const {
    std::string out = "<g transform=\"translate(" + x_y(page(opening.centre_mm)) + ")";
    if (opening.axis_deg != 0.0) out += " rotate(" + digits(-opening.axis_deg) + ")";
    return out + "\" data-slot=\"" + markup_text(opening.slot_id) + "\">" + shape + "</g>\n";
  }
  [[nodiscard]] std::string marks() const {
    TargetDrawing drawing;
    drawing.size_mm = plan_.machine.bed_mm;
    for (const Vector3d& mark : plan_.marks_mm)
      add_mark_fields(drawing, mark.head<2>() - plan_.machine.front_left_mm(), kJigMarkField_mm);
    return box_elements(drawing);
  }
  [[nodiscard]] std::string ids() const {
    std::string out;
    for (const JigOpening& opening : plan_.openings) {
      std::string d;
      for (Polyline2d contour : letters_mm(opening.slot_id, kIdHeight_mm, kJigIdWidth_mm)) {
        for (Vector2d& point : contour) point += opening.id_place_mm;
        d += closed_path(contour);
      }
      out += in_slot(opening, "<path d=\"" + d + "\"/>");
    }
    return out;
  }
  [[nodiscard]] std::string slots() const {
    std::string out;
    for (const JigOpening& opening : plan_.openings) {
      out += in_slot(opening, opening.outline.empty()
                                  ? rectangle(opening.low_mm, opening.high_mm, opening.corner_radius_mm)
                                  : "<path d=\"" + closed_path(opening.outline) + "\"/>");
    }
    return out;
  }
  [[nodiscard]] std::string outline() const {
    const Vector2d kerf = Vector2d::Constant(plan_.kerf_mm / 2.0);
    const Vector2d front_left = page(plan_.low_mm - kerf);
    const Vector2d back_right = page(plan_.high_mm + kerf);
    return rectangle({front_left.x(), -front_left.y()}, {back_right.x(), -back_right.y()}, 3.0) + "\n";
  }
};

}  // namespace

std::string jig_svg(const JigPlan& plan) { return Sheet(plan).text(); }

}  // namespace jigtrue
