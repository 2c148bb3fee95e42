#include "jigtrue/layout/usable_band.hpp"

#include "jigtrue/detection/outline.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// Incidence at which the fluence has fallen to 1 - loss; it falls all the way to 90 degrees.
double incidence_of_loss(const BandLimits& limits) {
  double low = 0.0;
  double high = kPi / 2.0;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2.0;
    const bool enough = relative_fluence(middle, limits.refractive_index) >= 1.0 - limits.fluence_loss;
    (enough ? low : high) = middle;
  }
  return low;
}

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

double design_shift(const Slot& slot) { return slot.design ? slot.design->along_mm : 0.0; }
double design_width(const Slot& slot) { return slot.design ? slot.design->width_mm : 0.0; }

// The slimmest radius under the design: the band is as narrow as that.
double radius_under(const Slot& slot) {
  const std::vector<Vector2d> profile = radius_profile(slot.blank.shape);
  const double middle = profile.back().x() / 2.0 + design_shift(slot);
  const double half = design_width(slot) / 2.0;
  double radius = std::min(radius_at(profile, middle - half), radius_at(profile, middle + half));
  for (const Vector2d& point : profile)
    if (std::abs(point.x() - middle) < half) radius = std::min(radius, point.y());
  return radius;
}

// Height of the crown, or of the top face, under the design's centre.
double crown_height(const Slot& slot) { return design_height_mm(slot.blank, slot.seat, {}, design_shift(slot)); }

BeamDirection beam_at(const Vector3d& point, double axis_deg, const std::optional<Machine>& machine) {
  if (!machine || !machine->scanning_head_mm) return {};
  const Vector3d to_head = (*machine->scanning_head_mm - point).normalized();
  const double heading = rad_from_deg(axis_deg);
  return {to_head.x() * std::cos(heading) + to_head.y() * std::sin(heading),
          -to_head.x() * std::sin(heading) + to_head.y() * std::cos(heading), to_head.z()};
}

double lean_rad(const BeamDirection& beam) { return std::atan2(beam.across, beam.up); }

// What the whole length of the design may use: a head stands nearer to one end of it.
void round_room(const Slot& slot, const SlotNumbers& numbers, const BandLimits& limits,
                const std::optional<Machine>& machine, DesignRoom& room) {
  const double grown = numbers.diameter_mm ? *numbers.diameter_mm - *largest_diameter_mm(slot.blank.shape) : 0.0;
  // a measured diameter above the declared one is not built upon
  const double radius = std::max(radius_under(slot) + std::min(grown, 0.0) / 2.0, 0.0);
  const double heading = rad_from_deg(numbers.axis_deg);
  const Vector3d along(std::cos(heading), std::sin(heading), 0.0);
  const Vector3d centre(numbers.centre_mm.x(), numbers.centre_mm.y(), crown_height(slot));
  room.left_mm = room.right_mm = 1e9;
  for (const double end : {-0.5, 0.0, 0.5}) {
    const BeamDirection beam = beam_at(centre + end * design_width(slot) * along, numbers.axis_deg, machine);
    const Band band = usable_band(radius, limits, beam);
    room.left_mm = std::min(room.left_mm, band.left_mm);
    room.right_mm = std::min(room.right_mm, band.right_mm);
    room.bound = band.bound;
    if (end == 0.0) room.lean_deg = deg_from_rad(lean_rad(beam));
  }
  room.diameter_mm = 2.0 * radius;
  const bool varies = std::holds_alternative<TurnedBlank>(slot.blank.shape) || (machine && machine->scanning_head_mm);
  if (varies) room.design_width_mm = design_width(slot);
}

DesignRoom room_of(const Slot& slot, const SlotNumbers& numbers, const BandLimits& limits,
                   const std::optional<Machine>& machine) {
  DesignRoom room;
  room.u_across_mm = numbers.uncertainty.across_mm;
  room.u_along_mm = numbers.uncertainty.along_mm.value_or(0.0);
  const double half_length = length_mm(slot.blank.shape) / 2.0;
  room.forward_mm = half_length - design_shift(slot);
  room.backward_mm = half_length + design_shift(slot);
  room.bound = "edge";
  if (const auto* plate = std::get_if<PlateBlank>(&slot.blank.shape)) {
    room.left_mm = room.right_mm = plate->height_mm / 2.0;
  } else if (const auto* disc = std::get_if<DiscBlank>(&slot.blank.shape)) {
    room.disc_radius_mm = disc->diameter_mm / 2.0;
    room.left_mm = room.right_mm = disc->diameter_mm / 2.0;
  } else {
    round_room(slot, numbers, limits, machine, room);
  }
  return room;
}

// The longest design of the same height, centre kept, under which the band is high enough.
std::optional<double> full_height_width_mm(const Slot& slot, const SlotNumbers& numbers, const BandLimits& limits,
                                           const std::optional<Machine>& machine, const DesignBox& design) {
  constexpr double kStep_mm = 0.1;
  const auto fits = [&](double width_mm) {
    Slot narrower = slot;
    if (!narrower.design) narrower.design = Design{};
    narrower.design->width_mm = width_mm;
    const DesignRoom room = room_of(narrower, numbers, limits, machine);
    return design.height_mm <= 2.0 * (std::min(room.left_mm, room.right_mm) - room.u_across_mm);
  };
  int low = 1;  // in steps
  int high = static_cast<int>(std::floor(design.width_mm / kStep_mm));
  if (high <= low || !fits(low * kStep_mm) || fits(high * kStep_mm)) return std::nullopt;
  while (high - low > 1) {
    const int middle = (low + high) / 2;
    (fits(middle * kStep_mm) ? low : high) = middle;
  }
  return low * kStep_mm;
}

}  // namespace

double reflected_share(double incidence_rad, double refractive_index) {
  const double in = std::cos(incidence_rad);
  const double sine = std::sin(incidence_rad) / refractive_index;
  const double out = std::sqrt(std::max(0.0, 1.0 - sine * sine));
  const double s = (in - refractive_index * out) / (in + refractive_index * out);
  const double p = (out - refractive_index * in) / (out + refractive_index * in);
  return (s * s + p * p) / 2.0;
}

double relative_fluence(double incidence_rad, double refractive_index) {
  return std::cos(incidence_rad) * (1.0 - reflected_share(incidence_rad, refractive_index)) /
         (1.0 - reflected_share(0.0, refractive_index));
}

std::optional<double> depth_of_focus_mm(const BandLimits& limits) {
  if (!limits.spot_um || !limits.wavelength_nm) return std::nullopt;
  const double waist_mm = *limits.spot_um * 1e-3 / 2.0;
  const double rayleigh_mm = kPi * waist_mm * waist_mm / (limits.m2 * *limits.wavelength_nm * 1e-6);
  return rayleigh_mm * std::sqrt(limits.spot_growth * limits.spot_growth - 1.0);
}

Band usable_band(double radius_mm, const BandLimits& limits, const BeamDirection& beam) {
  const double phi = lean_rad(beam);
  const double steepness = std::hypot(beam.across, beam.up);  // below 1 when the beam leans along the axis, too
  const double by_loss = incidence_of_loss(limits);
  const double theta = std::min(rad_from_deg(limits.theta_max_deg), by_loss);
  Band band;
  if (by_loss < rad_from_deg(limits.theta_max_deg)) band.bound = "fluence";
  const double cosine = std::cos(theta) / steepness;
  if (cosine > 1.0 || !(radius_mm > 0.0)) return band;
  const double reach = std::acos(cosine);
  double left = phi + reach;
  double right = reach - phi;
  if (const auto depth = depth_of_focus_mm(limits)) {
    // measured along the leaning beam
    const double drop = *depth * std::cos(phi) * steepness;
    const double edge = drop >= radius_mm ? kPi / 2.0 : std::acos(1.0 - drop / radius_mm);
    if (edge < std::max(left, right)) band.bound = "depth of focus";
    left = std::min(left, edge);
    right = std::min(right, edge);
  }
  band.left_mm = plan_from_arc_mm(left * radius_mm, radius_mm, phi);
  band.right_mm = -plan_from_arc_mm(-right * radius_mm, radius_mm, phi);
  return band;
}

double plan_from_arc_mm(double arc_mm, double radius_mm, double lean) {
  const double psi = arc_mm / radius_mm;
  return radius_mm * (std::sin(psi) + (1.0 - std::cos(psi)) * std::tan(lean));
}

void judge_designs(const Fixture& fixture, CheckResult& result, const std::optional<Machine>& machine) {
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    SlotResult& slot = result.slots[i];
    if (!slot.numbers) continue;
    slot.room = room_of(fixture.slots[i], *slot.numbers, fixture.band, machine);
    if (slot.room->diameter_mm)
      slot.usable_band_mm = std::max(slot.room->left_mm + slot.room->right_mm - 2.0 * slot.room->u_across_mm, 0.0);
    judge_design(slot);
    if (slot.design_fits.value_or(true) || !slot.room->diameter_mm) continue;
    slot.room->full_height_width_mm =
        full_height_width_mm(fixture.slots[i], *slot.numbers, fixture.band, machine, *slot.design);
    judge_design(slot);
  }
}

void set_design_size(Fixture& fixture, const Vector2d& size_mm) {
  const bool some =
      std::any_of(fixture.slots.begin(), fixture.slots.end(), [](const Slot& slot) { return slot.design.has_value(); });
  for (Slot& slot : fixture.slots) {
    if (some && !slot.design) continue;
    slot.design = Design{size_mm.x(), size_mm.y(), design_shift(slot)};
  }
}

void sketch_bands(const Camera& camera, const Fixture& fixture, CheckResult& result) {
  constexpr int kPieces = 12;
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    SlotResult& slot = result.slots[i];
    if (!slot.numbers || !slot.room || !slot.room->diameter_mm || !slot.usable_band_mm) continue;
    const Slot& declared = fixture.slots[i];
    const double half_length =
        design_width(declared) > 0.0 ? design_width(declared) / 2.0 : length_mm(declared.blank.shape) / 2.0;
    const double heading = rad_from_deg(slot.numbers->axis_deg);
    const Vector3d along(std::cos(heading), std::sin(heading), 0.0);
    const Vector3d across(-along.y(), along.x(), 0.0);
    const Vector3d centre(slot.numbers->centre_mm.x(), slot.numbers->centre_mm.y(), crown_height(declared));
    const double left = slot.room->left_mm - slot.room->u_across_mm;
    const double right = slot.room->u_across_mm - slot.room->right_mm;
    slot.sketch.band.clear();
    for (const double side : {right, left}) {
      for (int k = 0; k <= kPieces; ++k) {
        const double share = side == right ? 2.0 * k / kPieces - 1.0 : 1.0 - 2.0 * k / kPieces;
        if (const auto px = project_bed_point(camera, centre + share * half_length * along + side * across))
          slot.sketch.band.push_back(*px);
      }
    }
  }
}

}  // namespace jigtrue
