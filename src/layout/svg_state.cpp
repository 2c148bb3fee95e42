#include "layout/svg_state.hpp"

#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

namespace jigtrue::svg {
namespace {

// Colours go into the outputs as they are, so nothing but a colour may pass.
bool looks_like_colour(std::string_view text) {
  return !text.empty() && text.size() <= 64 && std::all_of(text.begin(), text.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
           std::string_view("#(),.% -").find(c) != std::string_view::npos;
  });
}

std::string paint(const Elements& elements, const pugi::xml_node& node, const std::string& what,
                  const std::string& value, double opacity, Unburnable unburnable, const State& state) {
  if (value == "none" || value == "transparent" || opacity <= 0.0) return {};
  if (value == "currentColor" || value == "currentcolor")
    return paint(elements, node, what, state.colour, opacity, unburnable, {});
  if (value.find("url(") != std::string::npos && unburnable == Unburnable::passed_over) return "black";
  if (value.find("url(") != std::string::npos)
    throw elements.refuse(node, "its " + what + " is a gradient or pattern",
                          "use one plain colour, or convert it to outlines");
  if (!looks_like_colour(value))
    throw elements.refuse(node, "its " + what + " is no colour", "use a plain colour, like #000000");
  return value;
}

}  // namespace

bool one_of(std::string_view word, std::initializer_list<std::string_view> words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

bool is_white(std::string colour) {
  std::erase_if(colour, [](char c) { return c == ' '; });
  for (char& c : colour) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return one_of(colour, {"white", "#fff", "#ffffff", "rgb(255,255,255)", "rgb(100%,100%,100%)"});
}

double number_of(const Elements& elements, const pugi::xml_node& node, std::string_view name,
                 const std::string& value) {
  const auto number = length(value, 1.0);
  if (!number) throw elements.refuse(node, std::string(name) + " is not a number", "mend the drawing");
  return *number;
}

void set(const Elements& elements, const pugi::xml_node& node, std::string_view name, const std::string& value,
         Unburnable unburnable, State& state) {
  if (value == "inherit") return;
  if (one_of(name, {"mask", "filter", "marker", "marker-start", "marker-mid", "marker-end"})) {
    if (value == "none" || value.empty() || unburnable == Unburnable::passed_over) return;
    throw elements.refuse(node, std::string(name) + " cannot be burned as it is",
                          "expand it to plain paths and save again");
  }
  if (name == "fill")
    state.fill = value;
  else if (name == "stroke")
    state.stroke = value;
  else if (name == "color")
    state.colour = value;
  else if (name == "fill-rule")
    state.even_odd = value == "evenodd";
  else if (name == "clip-rule")
    state.clip_even_odd = value == "evenodd";
  else if (name == "visibility")
    state.visible = value == "visible";
  else if (name == "fill-opacity")
    state.fill_opacity = number_of(elements, node, name, value);
  else if (name == "stroke-opacity")
    state.stroke_opacity = number_of(elements, node, name, value);
  else if (name == "stroke-width")
    state.stroke_width = value;
  else if (name == "vector-effect")
    state.even_pen = value == "non-scaling-stroke";
  else if (name == "stroke-linecap")
    state.cap = value == "round" ? LineCap::round : value == "square" ? LineCap::square : LineCap::butt;
  else if (name == "stroke-linejoin")
    state.join = value == "round" ? LineJoin::round : value == "bevel" ? LineJoin::bevel : LineJoin::miter;
  else if (name == "stroke-miterlimit")
    state.miter_limit = std::max(1.0, number_of(elements, node, name, value));
  else if (name == "stroke-dasharray")
    state.dashes = value;
}

std::string fill_of(const Elements& elements, const pugi::xml_node& node, Unburnable unburnable, const State& state) {
  return paint(elements, node, "fill", state.fill, state.fill_opacity, unburnable, state);
}

std::optional<Stroke> stroke_of(const Elements& elements, const pugi::xml_node& node, Unburnable unburnable,
                                const State& state) {
  const std::string colour = paint(elements, node, "stroke", state.stroke, state.stroke_opacity, unburnable, state);
  if (colour.empty()) return std::nullopt;
  const auto width = length(state.stroke_width, diagonal(state.viewport));
  if (!width || *width < 0.0) throw elements.refuse(node, "its stroke-width cannot be read", "give it in mm or px");
  if (*width == 0.0) return std::nullopt;  // SVG 1.1, 11.4: no stroke is painted
  if (unburnable == Unburnable::refused && state.dashes != "none" && !state.dashes.empty() && state.dashes != "0")
    throw elements.refuse(node, "its stroke is dashed", "convert the dashes to paths, or draw it whole");
  Stroke stroke;
  stroke.colour = colour;
  stroke.pen = state.even_pen ? Matrix2d(Matrix2d::Identity() * kMmPerPx) : Matrix2d(state.page_from_user.linear());
  stroke.pen *= *width;
  if (!(std::abs(stroke.pen.determinant()) > 1e-18)) return std::nullopt;
  stroke.cap = state.cap;
  stroke.join = state.join;
  stroke.miter_limit = state.miter_limit;
  return stroke;
}

}  // namespace jigtrue::svg
