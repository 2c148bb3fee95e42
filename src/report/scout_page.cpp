#include "jigtrue/report/scout_page.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/layout/sketch_layout.hpp"
#include "jigtrue/report/page_frame.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "report/base64.hpp"
#include "report/draw.hpp"
#include "report/drawn_slot.hpp"
#include "report/page_parts.hpp"
#include "report/photo_part.hpp"

namespace jigtrue {
namespace {

constexpr double kShownSupport = 0.5;  // of the faintest blank's
constexpr std::size_t kMostShown = 8;

const char* const kScoutStyle = R"css(
.stage img{display:block;width:100%;height:auto}
pre{background:var(--card);border:1px solid var(--line);border-radius:.3rem;padding:.6rem .8rem;white-space:pre-wrap;overflow-wrap:anywhere;user-select:all}
)css";

struct ScoutMark {
  const std::vector<Polyline2d>& outline;
  std::string name;
  draw::Pen pen;
};

void draw_mark(PhotoPart& part, const ScoutMark& mark, const draw::Font& font) {
  cv::Mat3b& picture = part.bgr;
  Vector2d middle = Vector2d::Zero();
  double count = 0.0;
  for (const Polyline2d& piece : mark.outline) {
    Polyline2d small;
    for (const Vector2d& px : piece) {
      small.push_back(part.from_photo(px));
      middle += small.back();
      count += 1.0;
    }
    draw::polyline(picture, small, draw::Ends::open, mark.pen);
  }
  if (count == 0.0) return;
  middle /= count;
  const double width = draw::text_width(mark.name, font);
  const Vector2d corner = middle + Vector2d(-0.5 * width, 0.5 * font.height_px);
  constexpr double kAround = 0.35;
  const double around = kAround * font.height_px;
  draw::plate(picture,
              cv::Rect(static_cast<int>(corner.x() - around), static_cast<int>(corner.y() - font.height_px - around),
                       static_cast<int>(width + 2.0 * around), static_cast<int>(font.height_px + 2.0 * around)) &
                  cv::Rect({0, 0}, picture.size()));
  draw::text(picture, mark.name, corner, font, mark.pen.colour);
}

const std::vector<Polyline2d>& outline_of(const ScoutedSlot& slot) {
  return slot.blank ? slot.blank->measured.sketch.outline : slot.sketch.outline;
}

// Along (long) and across (short), beyond the slot's end.
void draw_axes(PhotoPart& part, const ScoutedSlot& slot, const Camera& camera, double length_px) {
  const std::optional<BedDirections> seen = bed_directions(camera, slot.slot.centre_mm);
  if (!seen) return;
  const BedDirections& bed = *seen;
  const Vector2d axis = unit_vector(rad_from_deg(slot.slot.axis_deg));
  const auto in_photo = [&](const Vector2d& direction) -> Vector2d {
    return (direction.x() * bed.x + direction.y() * bed.y).normalized();
  };
  const Vector2d along = in_photo(axis);
  const Vector2d across = in_photo(turned_left(axis));
  Vector2d middle = Vector2d::Zero();
  double ahead = -1e9;
  std::size_t points = 0;
  for (const Polyline2d& piece : outline_of(slot))
    for (const Vector2d& px : piece) {
      const Vector2d at = part.from_photo(px);
      middle += at;
      ++points;
      ahead = std::max(ahead, at.dot(along));
    }
  if (points == 0) return;
  middle /= static_cast<double>(points);
  const Vector2d start = middle + (ahead - middle.dot(along) + 0.4 * length_px) * along;
  const draw::Pen pen{draw::kIvory, 2, 1};
  draw::arrow(part.bgr, start, start + length_px * along, pen);
  draw::arrow(part.bgr, start, start + 0.6 * length_px * across, pen);
}

// In the corner where it hides the fewest outlines.
void draw_compass(PhotoPart& part, const ScoutResult& result, const Camera& camera, const draw::Font& font) {
  Vector2d about = Vector2d::Zero();
  std::vector<DrawnSlot> drawn(1);
  const auto hides = [&](const std::vector<Polyline2d>& outline) {
    for (const Polyline2d& piece : outline)
      for (const Vector2d& px : piece) drawn.front().all_outline_points.push_back(part.from_photo(px));
  };
  for (const ScoutedSlot& slot : result.slots) {
    about += slot.slot.centre_mm / static_cast<double>(result.slots.size());
    hides(outline_of(slot));
  }
  for (const ScoutedPlace& other : shown_others(result)) hides(other.measured.sketch.outline);
  if (const std::optional<BedDirections> bed = bed_directions(camera, about))
    draw::compass(part.bgr, *bed, compass_place(drawn, part.bgr.size(), draw::compass_size(*bed, font)), font);
}

std::string other_name(std::size_t i) { return std::string(1, static_cast<char>('a' + i)); }

std::string two_decimals(double value) { return fixed_text(value, 2); }

std::string pitch_sentence(const RegularGrid& grid) {
  std::string text = "The blanks stand in a regular " +
                     std::string(grid.rows > 1 && grid.columns > 1 ? "grid" : "row") +
                     ", so the grid says where the slots lie: all along " + two_decimals(grid.axis_deg) + "° (± " +
                     two_decimals(grid.u_axis_deg) + "°)";
  const auto add = [&](const char* name, const std::optional<Pitch>& pitch) {
    if (pitch)
      text += ", pitch " + std::string(name) + " " + two_decimals(pitch->mm) + " mm (± " + two_decimals(pitch->u_mm) +
              " mm)";
  };
  add("across", grid.row_pitch);
  add("along", grid.column_pitch);
  const auto two = [&](const char* name, int count, const Vector2d& step_mm) {
    if (count == 2)
      text += ", two " + std::string(name) + " " + two_decimals(step_mm.norm()) +
              " mm apart (whether slots lie between them no photo of two tells)";
  };
  two("rows", grid.rows, grid.row_step_mm);
  two("columns", grid.columns, grid.column_step_mm);
  return text + ". The blanks lie about their slots by " + two_decimals(grid.scatter_across_mm) + " mm across and " +
         two_decimals(grid.scatter_along_mm) + " mm along (1 σ); their slots are known to ± " +
         two_decimals(grid.u_across_mm) + " mm across and ± " + two_decimals(grid.u_along_mm) +
         " mm along. If you know the jig's own pitch, write it in.";
}

std::string number_cell(const char* label, double value, const std::optional<double>& u = std::nullopt) {
  std::string number = two_decimals(value);
  if (number.front() == '-') number.replace(0, 1, "&minus;");
  return "<td class=\"n\" data-label=\"" + std::string(label) + "\">" + number +
         (u ? "<small>± " + two_decimals(*u) + "</small>" : "") + "</td>";
}

std::string slot_row(const ScoutedSlot& each) {
  std::string row = "<tr class=\"" + std::string(each.blank ? "ready" : "empty") + "\"><th scope=\"row\">" +
                    markup_text(each.slot.id) + "</th>" + number_cell("X mm", each.slot.centre_mm.x()) +
                    number_cell("Y mm", each.slot.centre_mm.y()) + number_cell("axis °", each.slot.axis_deg);
  if (!each.blank) return row + "<td colspan=\"3\" class=\"wide\">" + markup_text(each.note) + "</td></tr>\n";
  const double axis = rad_from_deg(each.slot.axis_deg);
  const Vector2d along = unit_vector(axis);
  const Vector2d off = each.blank->slot.centre_mm - each.slot.centre_mm;  // of several loads, their mean
  const ExpandedUncertainty& u = each.blank->measured.numbers->uncertainty;
  return row + number_cell("blank along mm", off.dot(along), u.along_mm) +
         number_cell("across mm", off.dot(turned_left(along)), u.across_mm) +
         number_cell("turned °", std::remainder(each.blank->slot.axis_deg - each.slot.axis_deg, 180.0),
                     u.rotation_deg) +
         "</tr>\n";
}

std::string others_list(const std::vector<ScoutedPlace>& others) {
  if (others.empty()) return "<p>Nothing else on the bed looks like such a blank.</p>\n";
  std::string list = "<ul>\n";
  for (std::size_t i = 0; i < others.size(); ++i) {
    const ScoutedPlace& other = others[i];
    list += "<li><b>" + other_name(i) + "</b>, about X " + fixed_text(other.slot.centre_mm.x(), 0) + ", Y " +
            fixed_text(other.slot.centre_mm.y(), 0) + " mm: " +
            markup_text(other.measured.reasons.empty() ? "its edges may come together by chance: on a whole bed more "
                                                         "must speak for a blank than in a slot"
                                                       : other.measured.reasons.front()) +
            "</li>\n";
  }
  return list + "</ul>\n";
}

}  // namespace

std::vector<ScoutedPlace> shown_others(const ScoutResult& result) {
  double faintest = 1e9;
  for (const ScoutedSlot& slot : result.slots)
    if (slot.blank && slot.blank->support > 0.0) faintest = std::min(faintest, slot.blank->support);
  std::vector<ScoutedPlace> shown;
  for (const ScoutedPlace& other : result.others) {
    const bool plain = other.measured.state != SlotState::empty || other.support >= faintest;
    if (shown.size() < kMostShown && plain && other.support >= kShownSupport * faintest) shown.push_back(other);
  }
  return shown;
}

std::string scout_headline(const ScoutResult& result) {
  const auto count = result.slots.size();
  std::string gaps;
  std::size_t open = 0;
  for (const ScoutedSlot& slot : result.slots) {
    if (slot.blank) continue;
    ++open;
    gaps += (gaps.empty() ? "" : ", ") + slot.slot.id;
  }
  std::string text = std::to_string(count) + (count == 1 ? " slot" : " slots");
  if (open == 0) return text + ", a blank in each";
  return text + ", " + std::to_string(count - open) + " with a blank; no blank in " + (open == 1 ? "slot " : "slots ") +
         gaps + ", offered because the row goes on there";
}

std::string scout_picture_jpeg(const ScoutResult& result, const Photo& photo, const Camera& camera) {
  const std::vector<ScoutedPlace> others = shown_others(result);
  PhotoExtent extent;
  for (const ScoutedSlot& slot : result.slots)
    for (const Polyline2d& piece : outline_of(slot)) extent.add(piece);
  for (const ScoutedPlace& other : others)
    for (const Polyline2d& piece : other.measured.sketch.outline) extent.add(piece);
  constexpr double kRoom = 0.15;
  PhotoPart part = photo_part(photo, extent, kRoom, kPictureSide_px);
  const double side = std::max(part.bgr.cols, part.bgr.rows);
  const draw::Font font{std::max(14.0, 0.018 * side), true};
  const auto pen = [](const char* colour, double on, double off) {
    draw::Pen made;
    made.colour = draw::colour(colour);
    made.casing_px = 2;
    made.dash_on_px = on;
    made.dash_off_px = off;
    return made;
  };
  for (std::size_t i = 0; i < others.size(); ++i)
    draw_mark(part, {others[i].measured.sketch.outline, other_name(i), pen("#ffa469", 3, 6)}, font);
  for (const ScoutedSlot& slot : result.slots) {
    draw_mark(part, {outline_of(slot), slot.slot.id, slot.blank ? pen("#74d6ff", 0, 0) : pen("#f4f1e8", 10, 7)}, font);
    draw_axes(part, slot, camera, 0.03 * side);
  }
  draw_compass(part, result, camera, {0.8 * font.height_px, true});
  return encode_jpeg(part.bgr);
}

std::string scout_html(const ScoutResult& result, const std::string& picture_jpeg, const ScoutPageInputs& inputs) {
  std::string out = page::head("Scouted: " + scout_headline(result), page::base_style() + kScoutStyle) +
                    "<body>\n<main>\n<header>\n<p class=\"origin\">" + markup_text(inputs.photo_file) + " → " +
                    markup_text(inputs.fixture_file) + "</p><h1>" + markup_text(scout_headline(result)) + "</h1>\n";
  for (const std::string& note : inputs.notes) out += "<p class=\"caution\">" + markup_text(note) + "</p>\n";
  for (const std::string& note : result.notes) out += "<p class=\"caution\">" + markup_text(note) + "</p>\n";
  out += "</header>\n<section><h2>Next</h2>\n<p>Look whether every slot below is one, then copy:</p>\n<pre>" +
         markup_text(inputs.next_command) + "</pre></section>\n";
  out +=
      "<section><h2>In the photo</h2>\n<div class=\"stage\"><img alt=\"The photo with every slot outlined and "
      "numbered\" src=\"data:image/jpeg;base64," +
      base64(picture_jpeg) +
      "\"></div>\n<p class=\"quiet\">Blue, a number: a blank, measured. White, dashed: a slot of the row without one. "
      "Orange, dotted, a letter: looked at and not taken for a blank. At each slot's end the long arrow points along, "
      "the short one across.</p></section>\n";
  if (!inputs.sizes.empty()) {
    out += "<section><h2>Sizes measured</h2>\n<ul>\n";
    for (const std::string& size : inputs.sizes) out += "<li>" + markup_text(size) + "</li>\n";
    out += "</ul></section>\n";
  }
  out += "<section><h2>Slot by slot</h2>\n";
  if (result.grid)
    out += "<p>" + markup_text(pitch_sentence(*result.grid)) + "</p>\n";
  else
    out +=
        "<p>No regular row or grid was seen, so each slot lies where its blank lay. A blank lies in its slot by "
        "chance: check several loads and let settle move the slots.</p>\n";
  out +=
      "<div class=\"scroll\"><table><thead><tr><th>slot</th><th class=\"n\">X mm</th><th class=\"n\">Y mm</th><th "
      "class=\"n\">axis °</th><th class=\"n\">blank along "
      "mm</th><th class=\"n\">across mm</th><th class=\"n\">turned °</th></tr></thead><tbody>\n";
  for (const ScoutedSlot& slot : result.slots) out += slot_row(slot);
  out += "</tbody></table></div></section>\n<section><h2>Not taken for a blank</h2>\n" +
         others_list(shown_others(result)) + "</section>\n" + care_before_firing();
  return out + "<footer>jigtrue " + markup_text(inputs.software_version) + "</footer>\n</main>\n</body>\n</html>\n";
}

}  // namespace jigtrue
