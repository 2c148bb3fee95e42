#include "jigtrue/base/text.hpp"
#include "jigtrue/report/standing_style.hpp"

#include <algorithm>
#include <cmath>

#include "report/base64.hpp"
#include "report/page_parts.hpp"

namespace jigtrue::page {

namespace {

std::string px_text(double value) { return fixed_text(value, 1); }

enum class Ends { open, closed };

std::string path(const char* css_class, const Polyline2d& points, Ends ends, const std::string& more = {}) {
  if (points.size() < 2) return {};
  std::string d = "M";
  for (const Vector2d& point : points) {
    d += px_text(point.x());
    d += ' ';
    d += px_text(point.y());
    d += ' ';
  }
  d.pop_back();
  if (ends == Ends::closed) d += "Z";
  return std::string("<path class=\"") + css_class + "\" d=\"" + d + "\"" + more + "/>";
}

std::string dash_style(const StandingStyle& style) {
  if (style.dash_on <= 0.0) return {};
  constexpr double kLine_px = 2.4;
  return " stroke-dasharray=\"" + px_text(style.dash_on * kLine_px) + " " + px_text(style.dash_off * kLine_px) + "\"";
}

std::string outline(const SlotSketch& sketch, const StandingStyle& style) {
  std::string cases;
  std::string edges;
  const Ends ends = sketch.outline.size() == 1 && sketch.outline.front().size() > 2 ? Ends::closed : Ends::open;
  for (const Polyline2d& piece : sketch.outline) {
    cases += path("case", piece, ends);
    edges += path("edge", piece, ends, dash_style(style));
  }
  return "<g class=\"e\">" + cases + edges + "</g>";
}

// A target for the pointer: the outline's pieces joined and filled.
std::string hit_area(const SlotSketch& sketch) {
  Polyline2d all;
  for (const Polyline2d& piece : sketch.outline) all.insert(all.end(), piece.begin(), piece.end());
  return path("hit", all, Ends::closed);
}

// What is to be engraved: outlines filled, one within another a hole, and single lines.
std::string artwork(const SlotSketch& sketch) {
  std::string filled;
  std::string lines;
  for (const ArtLine& line : sketch.art) {
    std::string d = "M";
    for (const Vector2d& point : line.px) d += fixed_text(point.x(), 1) + " " + fixed_text(point.y(), 1) + " ";
    d.pop_back();
    (line.filled ? filled : lines) += d;
  }
  std::string out;
  if (!filled.empty()) out += "<path class=\"ink\" d=\"" + filled + "\"/>";
  if (!lines.empty())
    out += "<path class=\"ink-case\" d=\"" + lines + "\"/><path class=\"ink-line\" d=\"" + lines + "\"/>";
  return out;
}

std::string arrow(const Vector2d& from, const Vector2d& to, const char* css_class) {
  const Vector2d forward = to - from;
  const Vector2d left = turned_left(forward);
  const Vector2d base = to - 0.3 * forward;
  const Vector2d barb_1 = base + 0.16 * left;
  const Vector2d barb_2 = base - 0.16 * left;
  const std::string d = "M" + px_text(from.x()) + " " + px_text(from.y()) + " " + px_text(to.x()) + " " +
                        px_text(to.y()) + "M" + px_text(barb_1.x()) + " " + px_text(barb_1.y()) + " " +
                        px_text(to.x()) + " " + px_text(to.y()) + " " + px_text(barb_2.x()) + " " + px_text(barb_2.y());
  return std::string("<path class=\"") + css_class + "\" d=\"" + d + "\"/>";
}

// Along (long) and across (short), beyond the blank's end and its name, where they hide nothing.
std::string axes(const SlotSketch& sketch, double length_px) {
  if (!sketch.photo_from_design) return {};
  const Matrix3d& map = *sketch.photo_from_design;
  const auto at = [&](double along, double across) -> Vector2d {
    return (map * Vector3d(along, across, 1.0)).hnormalized();
  };
  const Vector2d origin = at(0.0, 0.0);
  const Vector2d along = (at(1.0, 0.0) - origin).normalized();
  const Vector2d across = (at(0.0, 1.0) - origin).normalized();
  double ahead = 0.0;
  for (const Polyline2d& piece : sketch.outline)
    for (const Vector2d& point : piece) ahead = std::max(ahead, (point - origin).dot(along));
  const Vector2d start = origin + (ahead + 1.8 * length_px) * along;
  std::string out;
  for (const char* kind : {"dir-case", "dir-line"})
    out += arrow(start, start + length_px * along, kind) + arrow(start, start + 0.6 * length_px * across, kind);
  return out;
}

std::string slot_group(const SlotResult& slot, std::size_t n, double axis_px) {
  const StandingStyle& style = style_of(standing(slot));
  const SlotSketch& sketch = slot.sketch;
  const std::string number = std::to_string(n);
  std::string out = "<a id=\"pic-" + number + "\" href=\"#row-" + number + "\" style=\"--bright:" + style.on_photo +
                    "\"><title>Slot " + markup_text(slot.id) + ": " + style.word + "</title>";
  out += hit_area(sketch) + outline(sketch, style);
  if (slot.numbers) out += path("mid", sketch.centreline, Ends::open);
  out += "<g class=\"b\">" + path("band", sketch.band, Ends::closed) + "</g>";
  out += "<g class=\"a\">" + path("was", sketch.nominal_design_box, Ends::closed);
  if (standing(slot) == Standing::ready) out += path("art", sketch.design_box, Ends::closed);
  out += "</g><g class=\"i\">" + artwork(sketch) + "</g><g class=\"d\">" + axes(sketch, axis_px) + "</g></a>\n";
  return out;
}

struct Extent {
  Vector2d low = Vector2d::Constant(1e9);
  Vector2d high = Vector2d::Constant(-1e9);
  void hold(const Vector2d& point) {
    low = low.cwiseMin(point);
    high = high.cwiseMax(point);
  }
};

// How far the picture can be magnified about the slots' middle so that all of them stay in view.
struct CloseUp {
  double factor = 1.0;
  Vector2d shift = Vector2d::Zero();
};

CloseUp close_up(const CheckResult& result) {
  Extent extent;
  for (const SlotResult& slot : result.slots) {
    for (const Polyline2d& piece : slot.sketch.outline) {
      for (const Vector2d& point : piece) extent.hold(point);
    }
  }
  const Vector2d size(result.width_px, result.height_px);
  if (result.slots.empty() || !(size.minCoeff() > 0.0)) return {};
  constexpr double kRoom = 1.3;  // names stand beyond the ends
  const Vector2d span = (extent.high - extent.low).cwiseMax(1.0) * kRoom;
  CloseUp view;
  view.factor = std::clamp((size.array() / span.array()).minCoeff(), 1.0, 6.0);
  const Vector2d middle = (extent.low + extent.high) / 2.0;
  // never past the photo's own edges
  view.shift = (size / 2.0 - view.factor * middle).cwiseMin(0.0).cwiseMax(size * (1.0 - view.factor));
  return view;
}

// Which way the bed lies: arrows along X and Y, and the side of the front edge. Above the photo, in that corner of the
// view where it hides the fewest outlines.
std::string compass(const CheckResult& result, const CloseUp& view, double size_px) {
  if (!result.directions) return {};
  const double reach = 1.5 * size_px;
  Vector2d best = Vector2d::Zero();
  int fewest = -1;
  for (const double y : {result.height_px - reach, reach}) {
    for (const double x : {reach, result.width_px - reach}) {
      int hidden = 0;
      for (const SlotResult& slot : result.slots)
        for (const Polyline2d& piece : slot.sketch.outline)
          for (const Vector2d& point : piece)
            hidden += (view.factor * point + view.shift - Vector2d(x, y)).cwiseAbs().maxCoeff() < reach ? 1 : 0;
      if (fewest >= 0 && hidden >= fewest) continue;
      fewest = hidden;
      best = {x, y};
    }
  }
  const BedDirections& bed = *result.directions;
  const auto name = [&](const char* words, const Vector2d& at) {
    return std::string("<text x=\"") + px_text(best.x() + at.x()) + "\" y=\"" + px_text(best.y() + at.y()) + "\">" +
           words + "</text>";
  };
  std::string out =
      "<g class=\"compass d\" role=\"img\" aria-label=\"Arrows along the bed&#39;s X and Y\" "
      "style=\"transform-origin:" +
      px_text(best.x() < result.width_px / 2.0 ? 0.0 : result.width_px) + "px " +
      px_text(best.y() < result.height_px / 2.0 ? 0.0 : result.height_px) + "px\"><circle cx=\"" + px_text(best.x()) +
      "\" cy=\"" + px_text(best.y()) + "\" r=\"" + px_text(reach) + "\"/>";
  out += arrow(best, best + 0.7 * size_px * bed.x, "dir-line") + arrow(best, best + 0.7 * size_px * bed.y, "dir-line");
  out += path("dir-line", {best, best - 0.4 * size_px * bed.y}, Ends::open);
  out += name("X", 0.95 * size_px * bed.x) + name("Y", 0.95 * size_px * bed.y) + name("front", -0.97 * size_px * bed.y);
  return out + "</g>\n";
}

double nearest_outline(const CheckResult& result, std::size_t except, const Vector2d& point) {
  double nearest = 1e18;
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    if (i == except) continue;
    for (const Polyline2d& piece : result.slots[i].sketch.outline)
      for (const Vector2d& other : piece) nearest = std::min(nearest, (other - point).norm());
  }
  return nearest;
}

// Beyond that end of the blank that is farther from the others, never on a blank: the names' letters must not hide what
// lies there. The step from the end is in the letters' own size, which the close-up changes.
struct NamePlace {
  Vector2d px;
  Vector2d outward;  // unit
};
NamePlace name_place(const CheckResult& result, std::size_t n) {
  const SlotSketch& sketch = result.slots[n].sketch;
  const Polyline2d& line = sketch.centreline.size() > 1 ? sketch.centreline : sketch.nominal_centreline;
  if (line.size() < 2 || !((line.back() - line.front()).norm() > 1.0)) return {sketch.label_px, Vector2d(0.0, 0.0)};
  const Vector2d along = (line.back() - line.front()).normalized();
  const Vector2d middle = (line.front() + line.back()) / 2.0;
  double ahead = 0.0;
  double behind = 0.0;
  for (const Polyline2d& piece : sketch.outline)
    for (const Vector2d& point : piece) {
      ahead = std::max(ahead, (point - middle).dot(along));
      behind = std::max(behind, (middle - point).dot(along));
    }
  const Vector2d far_end = middle + ahead * along;
  const Vector2d near_end = middle - behind * along;
  constexpr double kClearly = 1.2;
  const double at_far = nearest_outline(result, n, far_end);
  const double at_near = nearest_outline(result, n, near_end);
  // alike: the upper or the left one, so that a row of blanks has its names in a row
  const bool far_first = along.x() + along.y() < 0.0;
  const bool far_wins = far_first ? at_far * kClearly >= at_near : at_far > kClearly * at_near;
  return far_wins ? NamePlace{far_end, along} : NamePlace{near_end, -along};
}

// Above all outlines, so that no neighbour's line runs through it.
std::string slot_name(const CheckResult& result, std::size_t n) {
  const SlotResult& slot = result.slots[n];
  const StandingStyle& style = style_of(standing(slot));
  const NamePlace place = name_place(result, n);
  const bool sideways = std::abs(place.outward.x()) > 0.35;
  const char* anchor = !sideways ? "" : place.outward.x() > 0.0 ? " class=\"after\"" : " class=\"before\"";
  return "<text" + std::string(anchor) + " style=\"--bright:" + style.on_photo + "\" x=\"" + px_text(place.px.x()) +
         "\" y=\"" + px_text(place.px.y()) + "\" dx=\"" + fixed_text(0.4 * place.outward.x(), 2) + "em\" dy=\"" +
         fixed_text(0.85 * place.outward.y(), 2) + "em\" aria-hidden=\"true\">" + style.symbol + " " +
         markup_text(slot.id) + "</text>\n";
}

std::string layer_box(const char* id, const char* label, bool on) {
  return std::string("<span class=\"nobreak\"><input type=\"checkbox\" id=\"") + id + "\"" + (on ? " checked" : "") +
         "><label for=\"" + id + "\">" + label + "</label></span>\n";
}

// Larger than the page is wide, to be scrolled by pointer, finger or arrow keys: no script is needed.
std::string size_choice() {
  std::string out = "<fieldset class=\"sizes\"><legend>Size</legend>\n";
  const char* checked = " checked";
  for (const char* size : {"1", "2", "4"}) {
    const std::string id = std::string("size-") + size;
    out += "<span class=\"nobreak\"><input type=\"radio\" name=\"size\" id=\"";
    out += id;
    out += "\"";
    out += checked;
    out += "><label for=\"" + id;
    out += "\">";
    out += *size == '1' ? std::string("fits the page") : std::string(size) + " times";
    out += "</label></span>\n";
    checked = "";
  }
  return out + "</fieldset>\n";
}

bool has_art(const CheckResult& result) {
  return std::any_of(result.slots.begin(), result.slots.end(),
                     [](const SlotResult& slot) { return !slot.sketch.art.empty(); });
}

bool has_bands(const CheckResult& result) {
  return std::any_of(result.slots.begin(), result.slots.end(),
                     [](const SlotResult& slot) { return slot.sketch.band.size() > 2; });
}

}  // namespace

std::string picture(const CheckResult& result, const std::string& picture_jpeg) {
  const std::string width = std::to_string(result.width_px);
  const std::string height = std::to_string(result.height_px);
  const CloseUp near = close_up(result);
  const double name_px = std::max(result.width_px, result.height_px) / 48.0;
  const bool worth_it = near.factor > 1.15;
  std::string switches = "<div class=\"switches\">\n";
  if (worth_it) switches += layer_box("see-near", "Close-up", true);
  switches += layer_box("see-edge", "Outlines", true) + layer_box("see-mid", "Centrelines", true) +
              layer_box("see-art", "Designs", true) + (has_bands(result) ? layer_box("see-band", "Bands", true) : "") +
              (has_art(result) ? layer_box("see-ink", "Artwork", true) : "") +
              (result.directions ? layer_box("see-dir", "Directions", true) : "") +
              layer_box("see-name", "Names", true) + size_choice() + "</div>\n";
  std::string out =
      "<div class=\"view\" role=\"group\" aria-label=\"Photo with layers\">\n"
      "<div class=\"stage\" tabindex=\"0\" role=\"region\" aria-label=\"Photo, to be scrolled when enlarged\" "
      "style=\"--name:" +
      px_text(name_px) + "px;--factor:" + fixed_text(near.factor, 3) + ";--near:matrix(" + fixed_text(near.factor, 3) +
      ",0,0," + fixed_text(near.factor, 3) + "," + px_text(near.shift.x()) + "," + px_text(near.shift.y()) + ")\">\n";
  // pixel centres lie at whole numbers: the picture begins half a pixel before them
  out += "<svg viewBox=\"-0.5 -0.5 " + width + " " + height +
         "\" aria-label=\"Photo of the bed with each slot's outline\">\n" +
         "<g class=\"world\">\n<image x=\"-0.5\" y=\"-0.5\" width=\"" + width + "\" height=\"" + height +
         "\" preserveAspectRatio=\"none\" href=\"data:image/jpeg;base64," + base64(picture_jpeg) + "\"/>\n";
  for (std::size_t i = 0; i < result.slots.size(); ++i)
    out += slot_group(result.slots[i], i + 1, 1.1 * name_px / near.factor);
  for (std::size_t i = 0; i < result.slots.size(); ++i) out += slot_name(result, i);
  out += "</g>\n" + compass(result, near, 2.1 * name_px) + "</svg>\n</div>\n";
  // behind the photo, so that a small screen shows the photo first
  return out + switches + "</div>\n";
}

}  // namespace jigtrue::page
