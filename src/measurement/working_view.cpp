#include "jigtrue/measurement/working_view.hpp"

#include "jigtrue/detection/search_picture.hpp"
#include "jigtrue/image/sharpest_blur.hpp"
#include "jigtrue/image/shrink_photo.hpp"
#include "jigtrue/measurement/measure_slot.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace jigtrue {
namespace {

// The pixels around a blank at its nominal place.
cv::Rect part_of(const Camera& camera, const Slot& slot) {
  constexpr double kBeside = 0.1;  // of its size: the edges' other side
  Vector2d low = Vector2d::Constant(1e9);
  Vector2d high = Vector2d::Constant(-1e9);
  for (const Polyline2d& line : outline_polylines(camera, slot.blank, slot.seat, nominal_place(slot))) {
    for (const Vector2d& px : line) {
      low = low.cwiseMin(px);
      high = high.cwiseMax(px);
    }
  }
  if (!(low.array() < high.array()).all()) return {};
  const double beside = kBeside * (high - low).minCoeff() + 4.0;
  low.array() -= beside;
  high.array() += beside;
  return {cv::Point(static_cast<int>(low.x()), static_cast<int>(low.y())),
          cv::Point(static_cast<int>(high.x()), static_cast<int>(high.y()))};
}

// A few slots, spread over the fixture, tell a photo's blur.
std::vector<cv::Rect> parts_of(const Camera& camera, const Fixture& fixture) {
  constexpr std::size_t kMost = 8;  // slots: more tell nothing new
  std::vector<cv::Rect> parts;
  const std::size_t stride = std::max<std::size_t>(1, fixture.slots.size() / kMost);
  for (std::size_t i = 0; i < fixture.slots.size(); i += stride) parts.push_back(part_of(camera, fixture.slots[i]));
  return parts;
}

// Pixels averaged by less than this are left as they are: some places would be averaged of two and some of one, and the
// picture's blur would change from place to place.
double worthwhile(double shrink) {
  constexpr double kLeastShrink = 1.25;  // with less, most places are averaged of one or two pixels
  return shrink < kLeastShrink ? 1.0 : shrink;
}

// How many times finer a photo is than the measurement needs; nothing where no slot lies in it.
std::optional<double> finer_than_needed(const Camera& camera, const Fixture& fixture, const WorkingScale& scale) {
  double px_per_mm = std::numeric_limits<double>::infinity();
  double enough = scale.px_per_mm;
  for (const Slot& slot : fixture.slots) {
    const double own = px_per_mm_at(camera, {slot.centre_mm.x(), slot.centre_mm.y(), 0.0});
    if (own > 0.0) px_per_mm = std::min(px_per_mm, own);
    enough = std::max(enough, scale.px_across / largest_girth_mm(slot.blank.shape));
  }
  if (!std::isfinite(px_per_mm)) return std::nullopt;
  return px_per_mm / enough;
}

}  // namespace

WorkingView view_at(const Photo& photo, const Camera& camera, double shrink) {
  return {shrunk(photo, shrink), shrunk(camera, shrink), shrink};
}

WorkingView working_view(const Photo& photo, const Camera& camera, const Fixture& fixture, const WorkingScale& scale) {
  const std::optional<double> finer = finer_than_needed(camera, fixture, scale);
  if (!finer) return view_at(photo, camera, 1.0);
  const double blur_px = sharpest_blur_px(photo.luma, parts_of(camera, fixture)).value_or(0.0);
  const double by_blur = std::min(blur_px / scale.least_blur_px, *finer / scale.fewest_share);
  return view_at(photo, camera, worthwhile(std::max(std::floor(by_blur), *finer)));
}

std::vector<double> other_scales(const Camera& camera, const Fixture& fixture, double shrink,
                                 const WorkingScale& scale) {
  std::vector<double> scales;
  const double finer = finer_than_needed(camera, fixture, scale).value_or(0.0);
  if (shrink * scale.next <= finer / scale.fewest_share) scales.push_back(shrink * scale.next);
  if (shrink > 1.0) scales.push_back(worthwhile(shrink / scale.next));
  return scales;
}

}  // namespace jigtrue
