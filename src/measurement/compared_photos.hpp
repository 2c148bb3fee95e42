// The empty jig's photo laid on the load's, in its light.
#pragma once
#include <array>

#include "measurement/jig_motion.hpp"
#include "measurement/plane_pair.hpp"

namespace jigtrue::registration {

struct Compared {
  Planes moved;                   // the empty photo's, where the jig lies now
  cv::Mat1f light;                // the load's over the empty photo's, px by px, carried on smoothly across the slots
  cv::Mat1b unchanged;            // one beside the slots where both photos agree, px by px
  std::array<double, 3> noise{};  // of what the load shows beyond that, grey levels, 1 sigma
};
// Tells the level's noise anew, and which of its cells go with the bed.
[[nodiscard]] Compared compare(const PlanePair& pair, Level& level, const Motion& motion);

}  // namespace jigtrue::registration
