#include "jigtrue/report/standing_style.hpp"

namespace jigtrue {

const std::array<StandingStyle, 6>& standing_styles() {
  static const std::array<StandingStyle, 6> styles = {{
      {Standing::ready, "ready", "\xE2\x9C\x93", "ready", "#4fd0ff", 0.0, 0.0},
      {Standing::misfit, "design does not fit", "!", "misfit", "#ffe14a", 0.0, 0.0},
      {Standing::imprecise, "not exact enough", "\xC2\xB1", "imprecise", "#9be564", 5.0, 1.4},
      {Standing::mismatch, "wrong blank", "\xE2\x89\xA0", "mismatch", "#ff8a3d", 7.0, 3.0},
      {Standing::doubtful, "in doubt", "?", "doubtful", "#e9a2ff", 1.2, 2.6},
      {Standing::empty, "empty", "\xE2\x97\x8B", "empty", "#f4f1e8", 3.5, 3.5},
  }};
  return styles;
}

const StandingStyle& style_of(Standing standing) {
  for (const StandingStyle& style : standing_styles()) {
    if (style.standing == standing) return style;
  }
  return standing_styles()[4];
}

}  // namespace jigtrue
