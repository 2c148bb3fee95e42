// How far the compared lens models miss photos that they have not seen, as a length on the bed.
#pragma once
#include "jigtrue/calibration/pose_fit.hpp"

#include <vector>

namespace jigtrue {

struct HeldOutOnBed {
  LensModel model = LensModel::radial5;
  double px = 0.0;  // distance, rms per corner, as lens.json's comparison has it
  double mm = 0.0;  // the same where the points that gave the pose lie, in the horizontal plane, rms over them
};
// The chosen model first, then the others in the file's order. Empty where the lens file compares nothing.
[[nodiscard]] std::vector<HeldOutOnBed> held_out_on_bed(const LensRecord& lens, const PoseFit& pose);

}  // namespace jigtrue
