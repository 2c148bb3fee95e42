// The photo as the coarse search sees it: no finer than it needs, so that its cost does not grow with the camera's
// resolution.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/image/photo.hpp"

#include <vector>

namespace jigtrue {

struct SearchPicture {
  Photo photo;     // each plane's pixels averaged over shrink x shrink of the original's
  int shrink = 1;  // position in this picture: (p + 0.5) / shrink - 0.5

  // The same samples with positions, lengths and motions in this picture's pixels.
  [[nodiscard]] std::vector<OutlineSample> in_picture(std::vector<OutlineSample> samples) const;
};

[[nodiscard]] SearchPicture make_search_picture(const Photo& photo, int shrink);

// By how much a photo may be shrunk for the search: a millimetre keeps at least kSearchPxPerMm, and the slimmest blank
// kSearchPxAcross, so that the close fit, which looks some pixels far, begins near enough. `px_per_mm`: the photo's,
// where it is least.
inline constexpr double kSearchPxPerMm = 2.4;
inline constexpr double kSearchPxAcross = 20.0;
[[nodiscard]] int search_shrink(double px_per_mm, double slimmest_mm);

// Pixels to a millimetre at a bed point, along the direction where they are fewest; 0 where the camera does not see it.
[[nodiscard]] double px_per_mm_at(const Camera& camera, const Vector3d& bed_mm);

}  // namespace jigtrue
