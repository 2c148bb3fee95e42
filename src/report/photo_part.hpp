// The part of a photo that holds what is drawn, as large as it can be.
#pragma once
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/image/photo.hpp"

#include <opencv2/core.hpp>

namespace jigtrue {

inline constexpr int kPictureSide_px = 1600;  // of a picture in a page: as wide as a screen shows it

// The least box around points of a photo, px.
struct PhotoExtent {
  Vector2d low = Vector2d::Constant(1e9);
  Vector2d high = Vector2d::Constant(-1e9);
  void add(const Polyline2d& points);  // those that are not finite are passed over
};

struct PhotoPart {
  cv::Mat3b bgr;
  double scale = 1.0;                  // its px for one of the photo
  Vector2d origin = Vector2d::Zero();  // its first pixel in the whole photo so shrunk
  [[nodiscard]] Vector2d from_photo(const Vector2d& px) const {
    return ((px.array() + 0.5) * scale - 0.5).matrix() - origin;
  }
};

// Cut out around the extent with room beside it, a share of its longer side; the whole photo where the extent is empty.
// Its longer side is at most `side_px`; a small part is enlarged, twice at most.
[[nodiscard]] PhotoPart photo_part(const Photo& photo, const PhotoExtent& extent, double room, double side_px);

}  // namespace jigtrue
