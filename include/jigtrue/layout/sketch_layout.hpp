// What is drawn over the photo besides the blanks: which way the bed and the slots lie, and what is to be engraved.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

// As seen about this bed point, at height 0; nothing where the camera does not see it.
[[nodiscard]] std::optional<BedDirections> bed_directions(const Camera& camera, const Vector2d& about_mm);
// The same about the middle of the fixture's slots.
[[nodiscard]] std::optional<BedDirections> bed_directions(const Camera& camera, const Fixture& fixture);

// The fixture's slots, each with its photo_from_design.
[[nodiscard]] std::vector<SlotResult> with_design_planes(const Camera& camera, const Fixture& fixture,
                                                         std::vector<SlotResult> slots);

// Sets what of `art` lies on each slot that is ready, through its photo_from_design. A slot without artwork of its own,
// or whose artwork has so many points that a picture of it would be too large (20,000), gets none.
void sketch_art(const DesignArt& art, CheckResult& result);

}  // namespace jigtrue
