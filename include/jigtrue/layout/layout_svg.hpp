// layout.svg: the designs where the blanks really lie.
#pragma once
#include "jigtrue/layout/placement.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// An SVG 1.1 page in true millimetres: width and height in mm, one user unit is one mm. See Page for how it lies on the
// bed. One <g id="slot-ID" data-slot="the true id" transform="translate(x y) rotate(a)"> for each placed slot: its own
// origin is the design's corrected centre, its +x the blank's axis; in it the artwork, plain paths, each named pass
// in a group of its own and in a colour of its own (#0072b2, #d55e00, #009e73, #cc79a7, #e69f00, #56b4e9, #f0e442,
// #000000, then again), in the stated order, or the design's box as a thin outline where no artwork is given. Slots
// left out, and why, stand in <desc>. Places to 0.001 mm and 0.0001 deg, paths to 0.0001 mm.
[[nodiscard]] std::string layout_svg(const CheckResult& result, const std::optional<Machine>& machine = std::nullopt,
                                     const DesignArt& art = {});
[[nodiscard]] std::string layout_svg(const Placement& placement, const std::string& title,
                                     const std::optional<Machine>& machine);

// Passes alone, as a drawing that read_artwork takes: the page's middle is the design's centre.
[[nodiscard]] std::string artwork_svg(const std::vector<Pass>& passes);

}  // namespace jigtrue
