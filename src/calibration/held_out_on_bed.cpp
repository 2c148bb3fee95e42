#include "jigtrue/calibration/held_out_on_bed.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// An error alike in every direction of the picture, a pixel at rms, lies so far off on the bed.
double bed_mm_per_px(const PoseFit& pose) {
  double squares = 0.0;
  for (const Vector3d& mm : pose.points_mm) {
    const auto there = project_bed_point_with_jacobian(pose.camera, mm);
    if (!there) return 0.0;
    const Matrix2d bed_from_px = there->by_bed_point.leftCols<2>().inverse();
    squares += 0.5 * bed_from_px.squaredNorm() / static_cast<double>(pose.points_mm.size());
  }
  return std::sqrt(squares);
}

}  // namespace

std::vector<HeldOutOnBed> held_out_on_bed(const LensRecord& lens, const PoseFit& pose) {
  const double scale = bed_mm_per_px(pose);
  std::vector<HeldOutOnBed> list;
  for (const ModelHeldOut& trial : lens.held_out) list.push_back({trial.model, trial.px, scale * trial.px});
  std::stable_partition(list.begin(), list.end(),
                        [&](const HeldOutOnBed& entry) { return entry.model == lens.lens.model; });
  return list;
}

}  // namespace jigtrue
