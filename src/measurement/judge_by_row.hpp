// Each slot judged by where the others of its row lie: a jig's slots stand where they were cut.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/common_sizes.hpp"

#include <vector>

namespace jigtrue {

// A vee holds its blank: it must lie across where the others say that the jig stands.
void judge_places(const Fixture& fixture, PhotoFindings& result);

// What the row and the common lengths say against the declared heights and distances: told, and allowed for.
// `camera_mm`: where the camera stands over the bed.
void judge_heights(const Fixture& fixture, const std::vector<CommonSize>& sizes, const Vector2d& camera_mm,
                   PhotoFindings& result);

}  // namespace jigtrue
