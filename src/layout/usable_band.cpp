#include "jigtrue/layout/usable_band.hpp"

#include "jigtrue/layout/text.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// Radius of the profile at a distance from the blank's start.
double radius_at(const std::vector<Vector2d>& profile, double distance_mm) {
  for (std::size_t i = 1; i < profile.size(); ++i) {
    if (distance_mm > profile[i].x() && i + 1 < profile.size()) continue;
    const double share =
        std::clamp((distance_mm - profile[i - 1].x()) / (profile[i].x() - profile[i - 1].x()), 0.0, 1.0);
    return profile[i - 1].y() + share * (profile[i].y() - profile[i - 1].y());
  }
  return profile.front().y();
}

// The slimmest diameter under the design: the band is as narrow as that.
double diameter_under(const Slot& slot) {
  const std::vector<Vector2d> profile = radius_profile(slot.blank.shape);
  const double middle = profile.back().x() / 2.0 + (slot.design ? slot.design->along_mm : 0.0);
  const double half = slot.design ? slot.design->width_mm / 2.0 : 0.0;
  double radius = std::min(radius_at(profile, middle - half), radius_at(profile, middle + half));
  for (const Vector2d& point : profile)
    if (std::abs(point.x() - middle) < half) radius = std::min(radius, point.y());
  return 2.0 * radius;
}

// Room across and along for a design centred where it belongs, uncertainty taken off.
struct Room {
  double across_mm = 0.0;
  double along_mm = 0.0;
};

Room room_of(const Slot& slot, const SlotNumbers& numbers, const BandLimits& limits, std::optional<double>& band_mm) {
  const double u_across = numbers.uncertainty.across_mm;
  const double u_along = numbers.uncertainty.along_mm.value_or(0.0);
  const double shift = slot.design ? std::abs(slot.design->along_mm) : 0.0;
  if (const auto* plate = std::get_if<PlateBlank>(&slot.blank.shape))
    return {plate->height_mm - 2.0 * u_across, plate->width_mm - 2.0 * (shift + u_along)};
  if (const auto* disc = std::get_if<DiscBlank>(&slot.blank.shape)) {
    // the box's corners must stay on the disc
    const double radius = disc->diameter_mm / 2.0 - std::hypot(u_across, u_along);
    const double half_width = (slot.design ? slot.design->width_mm / 2.0 : 0.0) + shift;
    return {half_width < radius ? 2.0 * std::sqrt(radius * radius - half_width * half_width) : 0.0,
            2.0 * (radius - shift)};
  }
  const double grown = numbers.diameter_mm ? *numbers.diameter_mm - *largest_diameter_mm(slot.blank.shape) : 0.0;
  // a measured diameter above the declared one is not built upon
  const double diameter = std::max(diameter_under(slot) + std::min(grown, 0.0), 0.0);
  band_mm = std::max(usable_band_mm(diameter, limits) - 2.0 * u_across, 0.0);
  return {*band_mm, length_mm(slot.blank.shape) - 2.0 * (shift + u_along)};
}

}  // namespace

double usable_band_mm(double diameter_mm, const BandLimits& limits) {
  return diameter_mm * std::sin(rad_from_deg(limits.theta_max_deg));
}

void judge_designs(const Fixture& fixture, CheckResult& result, const BandLimits& limits) {
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    SlotResult& slot = result.slots[i];
    if (!slot.numbers) continue;
    const Room room = room_of(fixture.slots[i], *slot.numbers, limits, slot.usable_band_mm);
    if (!slot.design) continue;
    slot.design_note.clear();
    if (slot.design->height_mm > room.across_mm)
      slot.design_note = "the design is " + fixed_text(slot.design->height_mm, 1) + " mm tall, the band takes " +
                         fixed_text(room.across_mm, 1) + " mm: reduce its height to that";
    else if (slot.design->width_mm > room.along_mm)
      slot.design_note = "the design is " + fixed_text(slot.design->width_mm, 1) + " mm wide, the blank takes " +
                         fixed_text(room.along_mm, 1) + " mm: reduce its width to that";
    slot.design_fits = slot.design_note.empty();
  }
}

}  // namespace jigtrue
