// What is drawn over the photo besides the blanks: which way the bed and the slots lie, and what is to be engraved.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>

namespace jigtrue {

// As seen about this bed point, at height 0; nothing where the camera does not see it.
[[nodiscard]] std::optional<BedDirections> bed_directions(const Camera& camera, const Vector2d& about_mm);

// Sets the result's directions and every slot's photo_from_design.
void sketch_directions(const Camera& camera, const Fixture& fixture, CheckResult& result);

// Sets what of `art` lies on each slot that is ready, through its photo_from_design. A slot without artwork of its own,
// or whose artwork has so many points that a picture of it would be too large (20,000), gets none.
void sketch_art(const DesignArt& art, CheckResult& result);

}  // namespace jigtrue
