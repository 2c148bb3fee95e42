#include "jigtrue/report/board_scale.hpp"

#include <algorithm>

namespace jigtrue {

double mm_per_px(const LensFit& fit) {
  std::vector<double> sizes;
  for (const PhotoFit& photo : fit.photos) {
    if (!photo.used) continue;
    Vector3d middle = Vector3d::Zero();
    for (const SeenPoint& point : photo.points) middle += point.mm / static_cast<double>(photo.points.size());
    sizes.push_back((photo.camera_from_board * middle).norm() / fit.lens.focal_px().mean());
  }
  if (sizes.empty()) return 0.0;
  const auto at = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
  std::nth_element(sizes.begin(), at, sizes.end());
  return *at;
}

}  // namespace jigtrue
