// How tall a design may be along the crown of a round blank, and whether the one asked for fits.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

namespace jigtrue {

// The beam comes straight down and meets the flank at theta = asin(y / R). Up to theta_max the surface takes at least
// cos(theta_max) of the crown's fluence (the reflected share hardly changes below 45 degrees: Fresnel, n = 1.5). 30
// degrees give the 5 to 6 mm on a 10 to 12 mm pen that shops engrave (common practice, no source).
struct BandLimits {
  double theta_max_deg = 30.0;
};

// Height of the band, centred on the crown: 2 R sin(theta_max).
[[nodiscard]] double usable_band_mm(double diameter_mm, const BandLimits& limits = {});

// Sets usable_band_mm (round and turned blanks, uncertainty across taken off at either edge), design_fits and
// design_note of every slot that carries numbers. A design fits only when it fits with the uncertainty taken off (ISO
// 14253-1).
void judge_designs(const Fixture& fixture, CheckResult& result, const BandLimits& limits = {});

}  // namespace jigtrue
