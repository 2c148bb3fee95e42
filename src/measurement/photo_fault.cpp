#include "jigtrue/measurement/photo_fault.hpp"

#include "jigtrue/detection/outline.hpp"
#include "jigtrue/image/sensor_range.hpp"
#include "jigtrue/image/sharpest_blur.hpp"
#include "jigtrue/measurement/measure_slot.hpp"

#include <algorithm>
#include <cstdio>

namespace jigtrue {
namespace {

constexpr int kDarkBelow = 40;           // grey level that the brightest hundredth of the slots' parts must pass
constexpr double kBurnedShare = 0.5;     // of the slots' parts
constexpr double kBlurredFrom_px = 3.0;  // sigma of the sharpest edges
constexpr int kStep_px = 4;              // between the pixels that are looked at

}  // namespace

SlotParts::SlotParts(const Photo& photo, const Camera& camera, const Fixture& fixture) : luma_(photo.luma) {
  for (const Slot& slot : fixture.slots) {
    Vector2d low(luma_.cols, luma_.rows);
    Vector2d high(-1.0, -1.0);
    for (const Polyline2d& line : outline_polylines(camera, slot.blank, slot.seat, nominal_place(slot))) {
      for (const Vector2d& px : line) {
        low = low.cwiseMin(px);
        high = high.cwiseMax(px);
      }
    }
    low = low.cwiseMax(0.0);
    high = high.cwiseMin(Vector2d(luma_.cols - 1.0, luma_.rows - 1.0));
    if ((low.array() < high.array()).all())
      parts_.emplace_back(cv::Point(static_cast<int>(low.x()), static_cast<int>(low.y())),
                          cv::Point(static_cast<int>(high.x()) + 1, static_cast<int>(high.y()) + 1));
  }
}

double SlotParts::share_from(int level) const {
  std::size_t all = 0;
  std::size_t above = 0;
  for (const cv::Rect& part : parts_)
    for (int y = part.y; y < part.br().y; y += kStep_px)
      for (int x = part.x; x < part.br().x; x += kStep_px, ++all) above += luma_(y, x) >= level ? 1 : 0;
  return static_cast<double>(above) / static_cast<double>(std::max<std::size_t>(all, 1));
}

std::optional<Failure> SlotParts::fault_at_once() const {
  if (parts_.empty())
    return Failure{"none of the fixture's slots lies in the picture", FailureCode::slots_unseen,
                   "give the fixture file, the camera file and the photo that belong together"};
  if (share_from(kDarkBelow) < 0.01)
    return Failure{"the photo is too dark to tell anything", FailureCode::photo_dark,
                   "give it more light or a longer exposure"};
  return std::nullopt;
}

std::optional<Failure> SlotParts::fault_if_nothing_measures() const {
  if (share_from(static_cast<int>(kSensorFull)) > kBurnedShare)
    return Failure{"the photo is burned out to white, and no blank can be measured", FailureCode::photo_burned_out,
                   "expose it less, or keep lamps from shining back"};
  const std::optional<double> sharpest = sharpest_blur_px(luma_, parts_);
  if (!sharpest || *sharpest < kBlurredFrom_px) return std::nullopt;
  char text[120];
  std::snprintf(text, sizeof text,
                "the photo is too blurred, its sharpest edges by %.0f px, and no blank can be measured", *sharpest);
  return Failure{text, FailureCode::photo_blurred, "clean the camera's window, let it focus, hold it still"};
}

}  // namespace jigtrue
