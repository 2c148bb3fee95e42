// How each standing looks: colour, line and symbol, so that none of them is needed alone to tell two apart.
// The six colours differ in lightness as well as hue, for eyes that do not tell red from green or blue from yellow.
#pragma once
#include "jigtrue/report/standing.hpp"

#include <array>
#include <string>

namespace jigtrue {

struct StandingStyle {
  Standing standing;
  const char* word;    // short, for legends and tables
  const char* symbol;  // UTF-8, one sign
  const char* css_class;
  const char* on_photo;  // "#rrggbb", bright: always drawn upon a dark casing
  double dash_on;        // in line widths; 0 = solid
  double dash_off;
};

[[nodiscard]] const std::array<StandingStyle, 6>& standing_styles();
[[nodiscard]] const StandingStyle& style_of(Standing standing);

}  // namespace jigtrue
