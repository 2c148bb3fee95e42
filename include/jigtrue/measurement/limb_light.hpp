// Whether the light beside a supposed limb is that beside a limb, where the jig is known without its blanks.
#pragma once
#include "jigtrue/detection/outline_fit.hpp"

namespace jigtrue {

// How light falls on both sides of a blank, and on its jig beside them where that is known without the blank.
struct LimbLight {
  double blank = 1.0;   // just inside the left side, over the right
  double jig = 1.0;     // of its own light the jig keeps beside the left side, over the right
  double thrown = 0.0;  // light that the jig gained beside a side, the more of the two, over what the blank sends there
};

[[nodiscard]] LimbLight limb_light(const OutlineFit& fit);

// A limb away from the light is dark, and so is the shadow that it throws: of the same wood the two are one, and its
// rim looks like the limb's. But light that comes from one side leaves the jig beside the dark limb in the shade, by as
// much as it leaves the limb itself (both keep only what comes from all round). Where the jig lies in full light right
// beside the darker limb, what was taken for that is its shadow's rim.
[[nodiscard]] bool shadow_may_pass_for_a_side(const LimbLight& light);

// A jig cannot send back more light than its blank throws on it: what looks so is the blank's own surface, beside the
// edge of a highlight.
[[nodiscard]] bool blank_may_pass_for_its_jig(const LimbLight& light);

}  // namespace jigtrue
