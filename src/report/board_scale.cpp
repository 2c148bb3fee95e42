#include "jigtrue/report/board_scale.hpp"

#include "jigtrue/base/median.hpp"

namespace jigtrue {

double mm_per_px(const LensFit& fit) {
  std::vector<double> sizes;
  for (const PhotoFit& photo : fit.photos) {
    if (!photo.used) continue;
    Vector3d middle = Vector3d::Zero();
    for (const SeenPoint& point : photo.points) middle += point.mm / static_cast<double>(photo.points.size());
    sizes.push_back((photo.camera_from_board * middle).norm() / fit.lens.focal_px().mean());
  }
  return median(sizes).value_or(0.0);
}

}  // namespace jigtrue
