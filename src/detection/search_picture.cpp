#include "jigtrue/detection/search_picture.hpp"

#include "jigtrue/image/shrink_photo.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
std::vector<OutlineSample> SearchPicture::in_picture(std::vector<OutlineSample> samples) const {
  if (shrink == 1) return samples;
  for (OutlineSample& sample : samples) {
    sample.px = (sample.px.array() + 0.5) / shrink - 0.5;
    sample.px_per_mm /= shrink;
    sample.wall_px /= shrink;
    sample.radius_px /= shrink;
    sample.by_place /= shrink;
  }
  return samples;
}

SearchPicture make_search_picture(const Photo& photo, int shrink) { return {shrunk(photo, shrink), shrink}; }

int search_shrink(double px_per_mm, double slimmest_mm) {
  return std::max(1, static_cast<int>(px_per_mm / std::max(kSearchPxPerMm, kSearchPxAcross / slimmest_mm)));
}

double px_per_mm_at(const Camera& camera, const Vector3d& bed_mm) {
  const auto projection = project_with_jacobian(camera.lens, camera.camera_from_bed * bed_mm);
  if (!projection) return 0.0;
  const Eigen::Matrix<double, 2, 3> by_bed = projection->by_point * camera.camera_from_bed.rotation;
  // the lesser singular value of the map from the horizontal plane
  const Eigen::Matrix2d square = by_bed.leftCols<2>().transpose() * by_bed.leftCols<2>();
  const double half_trace = 0.5 * square.trace();
  return std::sqrt(
      std::max(half_trace - std::sqrt(std::max(half_trace * half_trace - square.determinant(), 0.0)), 0.0));
}

}  // namespace jigtrue
