#include "jigtrue/measurement/photo_fault.hpp"

#include "jigtrue/detection/outline.hpp"
#include "jigtrue/measurement/measure_slot.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>

namespace jigtrue {
namespace {

constexpr int kDarkBelow = 40;    // grey level that the brightest hundredth of the slots' parts must pass
constexpr int kBurnedFrom = 253;  // the sensor is full, but for what the compression changes
constexpr double kBurnedShare = 0.5;
constexpr double kBlurredFrom_px = 3.0;
constexpr int kStep_px = 4;

// Edges along one line of the picture: Gaussian sigmas as if each were a blurred step, the contrast over the steepest
// slope being sqrt(2 pi) of it. `at` gives the grey level of place i.
template <class Line>
void add_edges(const Line& at, int from, int to, std::vector<double>& sigmas_px) {
  constexpr int kReach = 8;
  constexpr int kContrast = 30;  // grey levels: far above noise
  constexpr double kRootTwoPi = 2.5066;
  for (int i = from + kReach; i + kReach <= to; ++i) {
    const int slope = std::abs(at(i + 1) - at(i - 1));
    if (slope < 4 || slope < std::abs(at(i) - at(i - 2)) || slope < std::abs(at(i + 2) - at(i))) continue;
    int low = 255;
    int high = 0;
    for (int k = -kReach; k <= kReach; ++k) {
      low = std::min(low, at(i + k));
      high = std::max(high, at(i + k));
    }
    if (high - low >= kContrast) sigmas_px.push_back((high - low) / (0.5 * slope * kRootTwoPi));
  }
}

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
      boxes_.push_back({static_cast<int>(low.x()), static_cast<int>(low.y()), static_cast<int>(high.x()),
                        static_cast<int>(high.y())});
  }
}

double SlotParts::share_from(int level) const {
  std::size_t all = 0;
  std::size_t above = 0;
  for (const Box& box : boxes_)
    for (int y = box.top; y <= box.bottom; y += kStep_px)
      for (int x = box.left; x <= box.right; x += kStep_px, ++all) above += luma_(y, x) >= level ? 1 : 0;
  return static_cast<double>(above) / static_cast<double>(std::max<std::size_t>(all, 1));
}

// The sharpest twentieth of the edges; nothing where there are hardly any.
std::optional<double> SlotParts::sharpest_px() const {
  constexpr std::size_t kFewest = 40;
  std::vector<double> sigmas;
  for (const Box& box : boxes_) {
    for (int y = box.top; y <= box.bottom; y += kStep_px)
      add_edges([&](int x) { return static_cast<int>(luma_(y, x)); }, box.left, box.right, sigmas);
    for (int x = box.left; x <= box.right; x += kStep_px)
      add_edges([&](int y) { return static_cast<int>(luma_(y, x)); }, box.top, box.bottom, sigmas);
  }
  if (sigmas.size() < kFewest) return std::nullopt;
  const auto place = sigmas.begin() + static_cast<std::ptrdiff_t>(sigmas.size() / 20);
  std::nth_element(sigmas.begin(), place, sigmas.end());
  return *place;
}

std::optional<Failure> SlotParts::fault_at_once() const {
  if (boxes_.empty())
    return Failure{"none of the fixture's slots lies in the picture", FailureCode::slots_unseen,
                   "give the fixture file, the camera file and the photo that belong together"};
  if (share_from(kDarkBelow) < 0.01)
    return Failure{"the photo is too dark to tell anything", FailureCode::photo_dark,
                   "give it more light or a longer exposure"};
  return std::nullopt;
}

std::optional<Failure> SlotParts::fault_if_nothing_measures() const {
  if (share_from(kBurnedFrom) > kBurnedShare)
    return Failure{"the photo is burned out to white, and no blank can be measured", FailureCode::photo_burned_out,
                   "expose it less, or keep lamps from shining back"};
  const std::optional<double> sharpest = sharpest_px();
  if (!sharpest || *sharpest < kBlurredFrom_px) return std::nullopt;
  char text[120];
  std::snprintf(text, sizeof text,
                "the photo is too blurred, its sharpest edges by %.0f px, and no blank can be measured", *sharpest);
  return Failure{text, FailureCode::photo_blurred, "clean the camera's window, let it focus, hold it still"};
}

}  // namespace jigtrue
