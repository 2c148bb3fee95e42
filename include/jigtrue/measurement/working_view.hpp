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

// Pixels are averaged as long as the sharpest edges stay blurred by about kLeastBlur_px (sampled so finely, none of
// their place is lost), or a millimetre keeps kEnoughPxPerMm and the slimmest blank kEnoughPxAcross: an edge is placed
// to a twentieth of a pixel or better, so that is a hundredth of a millimetre, less than light and form do to it; and a
// rounded rim or a joint of a fifth of a millimetre, which may be all that shows, still takes a pixel of its own.
// However soft, a picture keeps kFewestShare of those.
inline constexpr double kLeastBlur_px = 0.75;
inline constexpr double kEnoughPxPerMm = 5.0;
inline constexpr double kEnoughPxAcross = 40.0;
inline constexpr double kFewestShare = 0.375;
[[nodiscard]] WorkingView working_view(const Photo& photo, const Camera& camera, const Fixture& fixture);

[[nodiscard]] WorkingView view_at(const Photo& photo, const Camera& camera, double shrink);

// At what other scales to look at what `shrink` leaves unclear: coarser by kNextScale as long as that keeps
// kFewestShare of the pixels asked for, then as much finer, as far as the photo goes.
inline constexpr double kNextScale = 1.5;
[[nodiscard]] std::vector<double> other_scales(const Camera& camera, const Fixture& fixture, double shrink);

}  // namespace jigtrue
