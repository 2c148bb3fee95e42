// The photo as it would be seen from straight above: what lies at one height of the bed, to scale and undistorted, so
// that a blank looks alike wherever it lies.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/image/photo.hpp"

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Cell (column, row) shows the bed point origin_mm + mm_per_cell * (column, row): columns grow with X, rows with Y.
struct BedView {
  cv::Mat3f picture;  // luma and chroma less 128, grey levels
  cv::Mat1b seen;     // 255 where the photo shows the place
  Vector2d origin_mm = Vector2d::Zero();
  double mm_per_cell = 1.0;

  [[nodiscard]] Vector2d bed_mm(const Vector2d& cell) const { return origin_mm + mm_per_cell * cell; }
  [[nodiscard]] Vector2d cell(const Vector2d& bed_mm) const { return (bed_mm - origin_mm) / mm_per_cell; }
};

struct BedViewOptions {
  double height_mm = 0.0;
  double mm_per_cell = 1.0;
  double beyond_mm = 0.0;  // unseen bed kept around what the photo shows
};
// What the photo shows too small, in the far corners of an oblique view, is left out: less than a third of the pixels a
// millimetre that its middle has. Empty when the camera sees nothing at that height.
[[nodiscard]] BedView bed_view(const Photo& photo, const Camera& camera, const BedViewOptions& options);

}  // namespace jigtrue
