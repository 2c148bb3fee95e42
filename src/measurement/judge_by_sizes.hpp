// Each slot judged by the sizes that the load's blanks have in common.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/common_sizes.hpp"

namespace jigtrue {

// A place that was taken from the declared length is settled by the load's own where that is known.
void judge_by_sizes(const CommonSize& group, const Fixture& fixture, PhotoFindings& result);

}  // namespace jigtrue
