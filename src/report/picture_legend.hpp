// The strip below the annotated picture: headline, signs, how to read it, remarks.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <string>
#include <vector>

#include "report/drawn_slot.hpp"

namespace jigtrue {

// What the picture shows besides outlines.
struct Shown {
  bool arrows = false;
  int arrow_factor = 1;  // how much larger than life the arrows are
  bool axes = false;
};
[[nodiscard]] cv::Mat3b legend(const CheckResult& result, int width_px, const Shown& shown,
                               const std::vector<std::string>& remarks, const PictureSizes& sizes);

}  // namespace jigtrue
