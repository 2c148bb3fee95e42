// The photo as it is measured: no finer than its own blur and the measurement need, so that neither what is found nor
// what it costs hangs on the camera's pixels.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/photo.hpp"

#include <vector>

namespace jigtrue {

struct WorkingView {
  Photo photo;
  Camera camera;
  double shrink = 1.0;  // of the original's pixels either way
};

// How fine a picture measuring takes. An edge is placed to a twentieth of a pixel or better, so with 5 px a mm to a
// hundredth of a millimetre, less than light and form do to it; and a rounded rim or a joint of a fifth of a
// millimetre, which may be all that shows, still takes a pixel of its own.
struct WorkingScale {
  double px_per_mm = 5.0;
  double px_across = 40.0;      // the slimmest blank, where that asks for more
  double least_blur_px = 0.75;  // of the sharpest edges: sampled so finely, none of their place is lost
  double fewest_share = 0.375;  // of those pixels, that a picture keeps however soft it is
  double next = 1.5;            // times coarser or finer, where one scale leaves a slot unclear
};

// Pixels are averaged as long as what `scale` asks for is left, or as the sharpest edges stay blurred by so much.
[[nodiscard]] WorkingView working_view(const Photo& photo, const Camera& camera, const Fixture& fixture,
                                       const WorkingScale& scale = {});

[[nodiscard]] WorkingView view_at(const Photo& photo, const Camera& camera, double shrink);

// At what other scales to look at what `shrink` leaves unclear: the next coarser one as long as that keeps the fewest
// pixels, then the next finer one, as far as the photo goes.
[[nodiscard]] std::vector<double> other_scales(const Camera& camera, const Fixture& fixture, double shrink,
                                               const WorkingScale& scale = {});

}  // namespace jigtrue
