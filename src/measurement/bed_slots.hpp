// Slots as areas on the bed: what two share, and where one leaves the picture.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/fixture/fixture.hpp"

#include <string>

namespace jigtrue {

[[nodiscard]] bool is_disc(const Slot& slot);

// A slot for that kind of blank where one lies.
[[nodiscard]] Slot slot_at(const Slot& kind, const BlankPlace& place);

// What two blanks share of a blank's area on the bed, each `margin_mm` smaller all round.
[[nodiscard]] double shared_area(const Slot& a, const Slot& b, double margin_mm);

// Whether two long blanks meet at an angle that no two readings of one blank make.
[[nodiscard]] bool lies_across(const Slot& a, const Slot& b);

// The side of the picture that a blank's outline runs over, or nears by so many px; empty where it lies within.
[[nodiscard]] std::string runs_off(const Camera& camera, const Slot& slot, double margin_px = 3.0);

}  // namespace jigtrue
