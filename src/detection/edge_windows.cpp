#include "detection/edge_windows.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// A wall narrower than the blur cannot be told from the edge itself; one that fills the window is just what lies
// outside.
constexpr double kNarrowestWallPx = 0.6;
constexpr double kWidestWallPx = 9.0;
constexpr double kBesideWallPx = 3.5;
// So much that a true wall would show beside an edge that was taken for the wall's foot.
constexpr double kSeenBesideWallPx = 4.0;

}  // namespace

Reach reach_for(double blur_px) {
  return {std::ceil(std::max(8.0, 5.0 * blur_px + 3.0)), std::ceil(std::max(5.0, 3.0 * blur_px + 2.0))};
}

double inside_px_for(double radius_px, const Reach& reach) {
  return radius_px > 0.0 ? std::clamp(std::floor(0.75 * radius_px), 3.0, reach.inside_px) : reach.inside_px;
}

// Radii are rounded so that tables are shared.
EdgeModelOptions model_options(double radius_px, double wall_px, const PictureBlur& blur, const Reach& reach,
                               double range_px) {
  EdgeModelOptions options;
  options.blur_px = blur.luma_px;
  options.chroma_blur_px = blur.chroma_px;
  options.step_px = kProfileStepPx;
  options.range_px = range_px;
  options.inside_px = inside_px_for(radius_px, reach);
  options.outside_px = reach.outside_px;
  if (radius_px <= 0.0 && wall_px >= kNarrowestWallPx && wall_px <= kWidestWallPx) {
    options.wall_px = std::round(4.0 * wall_px) / 4.0;
    const double beside_px =
        std::max(kBesideWallPx, std::min(options.wall_px, kSeenBesideWallPx) + 2.0 * blur.luma_px + 1.0);
    options.outside_px = std::max(options.outside_px, std::ceil(options.wall_px + beside_px));
  }
  if (radius_px > 0.0) options.radius_px = std::exp(std::round(std::log(radius_px) / 0.08) * 0.08);
  return options;
}

EdgeModelOptions narrowed(EdgeModelOptions options, double blur_px) {
  options.inside_px = std::min(options.inside_px, std::ceil(3.0 * blur_px + 2.0));
  options.outside_px = std::ceil(options.wall_px + 2.0 * blur_px + 1.0);
  options.second_edges = false;
  return options;
}

double range_with_wall_px(const EdgeModelOptions& options, double range_px) {
  // past the wall's foot
  constexpr double kBeyondWallPx = 2.0;
  constexpr double kLeftInsidePx = 3.0;  // of the window, with the edge at the range's end
  if (options.wall_px <= 0.0) return range_px;
  const double wanted_px = std::min(options.wall_px + kBeyondWallPx, options.inside_px - kLeftInsidePx);
  return std::max(range_px, std::floor(2.0 * wanted_px) / 2.0);
}

}  // namespace jigtrue
