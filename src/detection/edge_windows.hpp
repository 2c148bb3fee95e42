// How wide a window of the photo each stretch of an outline is measured in.
#pragma once
#include "jigtrue/detection/edge_fit.hpp"
#include "jigtrue/detection/view.hpp"

namespace jigtrue {

inline constexpr double kProfileStepPx = 0.5;  // half a pixel: a picture holds nothing finer

// Windows for a picture of this blur: wide enough for the blurred edge and a little of what lies on either side.
struct Reach {
  double inside_px;
  double outside_px;
};
[[nodiscard]] Reach reach_for(double blur_px);

// A slim blank's window does not reach its far side.
[[nodiscard]] double inside_px_for(double radius_px, const Reach& reach);

// The window for an edge of this radius (0: sharp) with this much of the blank's own wall beside it.
[[nodiscard]] EdgeModelOptions model_options(double radius_px, double wall_px, const PictureBlur& blur,
                                             const Reach& reach, double range_px);

// The window cut down to the edge itself.
[[nodiscard]] EdgeModelOptions narrowed(EdgeModelOptions options, double blur_px);

// A wall's foot is as plain an edge as its head: who starts at the one must be able to see the other.
[[nodiscard]] double range_with_wall_px(const EdgeModelOptions& options, double range_px);

}  // namespace jigtrue
