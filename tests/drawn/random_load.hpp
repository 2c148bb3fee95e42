// Loads of a jig drawn at random, everything that a slot's budget names among it: sizes and heights within their
// declared tolerances, the camera beside its calibration by what that states, woods, lights and noise.
#pragma once
#include "drawn/drawn_bed.hpp"

namespace jigtrue::test {

enum class LoadKind { round_in_vees, round_on_floors, turned_in_vees, turned_on_floors, plates };

struct RandomLoad {
  DrawnBed bed;
  Camera stated;    // as its calibration states it, covariance included; the bed's own is a draw from that
  Fixture fixture;  // as the shop declares it
};

// `slots` blanks side by side, none of them missing, in a picture just large enough at about `px_per_mm`.
[[nodiscard]] RandomLoad random_load(LoadKind kind, int slots, double px_per_mm, std::uint32_t seed);

// The same of this blank in this seat, which must say its top face's height. No discs.
[[nodiscard]] RandomLoad random_load(const Slot& declared, int slots, double px_per_mm, std::uint32_t seed);

}  // namespace jigtrue::test
