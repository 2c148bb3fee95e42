// What every page of the program has in common: its colours, light, dark and printed, and the cautions.
#pragma once
#include <string>

namespace jigtrue {

// CSS custom properties: --paper, --card, --ink, --soft, --line, --tint, --focus, and one for each standing (the class
// names of report/standing_style.hpp).
[[nodiscard]] std::string page_palette();

// A <section class="care">: laser light, fumes, fire, material, and who has the last word.
[[nodiscard]] std::string care_before_firing();

}  // namespace jigtrue
