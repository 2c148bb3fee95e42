// How tall a design may be along the crown of a round blank, and whether the one asked for fits.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/layout/machine.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>

namespace jigtrue {

// Unpolarised share of light that a surface reflects at this incidence (Fresnel; Born & Wolf, Principles of Optics,
// 1.5.2). At n = 1.5: 4.00 % at 0, 4.15 % at 30, 8.92 % at 60 degrees.
[[nodiscard]] double reflected_share(double incidence_rad, double refractive_index);

// What a surface takes of the beam at this incidence, over what it takes when met squarely: the cosine spreads the
// spot, reflection takes its share.
[[nodiscard]] double relative_fluence(double incidence_rad, double refractive_index);

// How far below the focus the spot has grown by the factor that the limits allow: z_R sqrt(g^2 - 1) with the Rayleigh
// length z_R = pi w0^2 / (M^2 lambda) (ISO 11146-1). Nothing when the limits describe no beam.
[[nodiscard]] std::optional<double> depth_of_focus_mm(const BandLimits& limits);

// Where the beam comes from, seen along the axis: the unit vector towards it.
struct BeamDirection {
  double along = 0.0;
  double across = 0.0;  // positive: from the left
  double up = 1.0;
};

// The band in the plane through the crown, which is in focus: from -right to +left of the axis.
struct Band {
  double left_mm = 0.0;
  double right_mm = 0.0;
  const char* bound = "incidence";
};
// A point of the surface at angle psi from the top, towards +across, takes the beam at the incidence acos(n . b) with
// n = (sin psi, cos psi), lies R (1 - cos psi) below the crown, and is burned by the ray that passes the crown's plane
// at R sin psi + R (1 - cos psi) b_across / b_up. So with a leaning beam the band shifts towards the head, by R
// tan(phi): square incidence. Empty (both 0) where no part takes the beam well.
[[nodiscard]] Band usable_band(double radius_mm, const BandLimits& limits, const BeamDirection& beam = {});

// Where a point at arc length `arc_mm` from the top line (positive to the left) is burned, as a position in the crown's
// plane: artwork drawn for the unrolled surface is squeezed by this.
[[nodiscard]] double plan_from_arc_mm(double arc_mm, double radius_mm, double lean_rad = 0.0);

// Sets room, usable_band_mm (round and turned blanks, uncertainty across taken off at either edge), design_fits and
// design_note of every slot that carries numbers. The band is that of the barrel where it is slimmest under the design,
// at its measured diameter where that is the smaller one.
void judge_designs(const Fixture& fixture, CheckResult& result, const std::optional<Machine>& machine = std::nullopt);

// Sets design_fits and design_note from `room` and `design`. A design fits only when it fits with the uncertainty taken
// off (ISO 14253-1); one that might fit but might not "cannot be proved" and counts as not fitting.
void judge_design(SlotResult& slot);

// Every design becomes this large; where it is placed along the blank stays. Slots without a design get one only when
// none has.
void set_design_size(Fixture& fixture, const Vector2d& size_mm);

// Adds each slot's band to what is drawn over the photo.
void sketch_bands(const Camera& camera, const Fixture& fixture, CheckResult& result);

}  // namespace jigtrue
