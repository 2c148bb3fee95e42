// What an element of a drawing inherits: where it lies, and how it is painted.
#pragma once
#include <string>
#include <string_view>

#include "layout/clip_region.hpp"
#include "layout/svg_elements.hpp"

namespace jigtrue::svg {

struct State {
  Affine page_from_user = Affine::Identity();
  Vector2d viewport = Vector2d::Zero();  // user units; what percentages refer to
  std::string fill = "black";
  std::string stroke = "none";
  std::string colour = "black";
  bool even_odd = false;
  bool clip_even_odd = false;
  bool visible = true;
  double fill_opacity = 1.0;
  double stroke_opacity = 1.0;
  std::string stroke_width = "1";
  bool even_pen = false;  // vector-effect: the width is not scaled
  LineCap cap = LineCap::butt;
  LineJoin join = LineJoin::miter;
  double miter_limit = 4.0;
  std::string dashes = "none";
  const ClipRegion* clip = nullptr;
  std::size_t depth = 0;
};

// What cannot be burned as it is, is passed over where only places are asked for.
enum class Unburnable { refused, passed_over };

// One property of the element into the state.
void set(const Elements& elements, const pugi::xml_node& node, std::string_view name, const std::string& value,
         Unburnable unburnable, State& state);

[[nodiscard]] double number_of(const Elements& elements, const pugi::xml_node& node, std::string_view name,
                               const std::string& value);

// Its colour, and its pen in mm of the page; nothing where none is painted.
[[nodiscard]] std::string fill_of(const Elements& elements, const pugi::xml_node& node, Unburnable unburnable,
                                  const State& state);
[[nodiscard]] std::optional<Stroke> stroke_of(const Elements& elements, const pugi::xml_node& node,
                                              Unburnable unburnable, const State& state);

[[nodiscard]] bool is_white(std::string colour);

[[nodiscard]] bool one_of(std::string_view word, std::initializer_list<std::string_view> words);

}  // namespace jigtrue::svg
