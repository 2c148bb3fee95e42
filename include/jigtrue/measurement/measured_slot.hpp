// One slot as one look at it leaves it, before looks are weighed against each other.
#pragma once
#include "jigtrue/measurement/limb_light.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <vector>

namespace jigtrue {

struct MeasuredSlot {
  SlotResult result;
  LimbLight limb_light;              // where there are numbers
  std::vector<Vector2d> may_lie_mm;  // centres of what the blank may be, where too little was seen
};

}  // namespace jigtrue
