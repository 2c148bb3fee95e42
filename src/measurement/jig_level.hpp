// What a jig's motion between two photos is found from.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"

#include "measurement/jig_motion.hpp"
#include "measurement/plane_pair.hpp"

namespace jigtrue::registration {

constexpr double kLeastNoise = 0.3;  // grey levels: what rounding leaves

// At the pair's own scale, before the jig's motion is known.
[[nodiscard]] Level jig_level(const PlanePair& pair, const SlotRegions& regions, const Camera& camera,
                              const Fixture& fixture);

}  // namespace jigtrue::registration
