// One slot of one photo: found, empty, mismatch or doubtful, with numbers and their uncertainty.
#pragma once
#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/detection/bare_jig.hpp"
#include "jigtrue/detection/coarse_search.hpp"
#include "jigtrue/detection/outline_evidence.hpp"
#include "jigtrue/measurement/measured_slot.hpp"

namespace jigtrue {

struct MeasureOptions {
  PictureBlur blur;
  double lens_error_px = 0.0;         // what the lens model misses the lens by, typically
  const BareJig* bare_jig = nullptr;  // where that is known
  double coverage_factor = kCoverageFactor95;
};

// One slot to measure: where its blank is expected, how far around that to look, and what the coarse search saw.
struct SlotTask {
  Slot slot;
  BlankPlace expected;
  SearchRange range;
  CoarseFinding coarse;
  EdgeClutter clutter;  // of its own window, and of all slots'
};

// The blank expected in its slot, nominal or as the fixture's own marks place it.
[[nodiscard]] BlankPlace nominal_place(const Slot& slot);

// Adds the edges where no blank is expected, along outlines laid askew in the slot's search window. Some run over its
// blank and walls all the same; that makes clutter seem denser, and the decision more careful.
void add_clutter_around(const View& view, const SlotTask& task, EdgeClutter& clutter);

// `picture`: the photo for coarse searches. `sketch_camera`: that of the picture which the sketch is for.
[[nodiscard]] MeasuredSlot measure_slot(const Photo& photo, const SearchPicture& picture, const Camera& camera,
                                        const Camera& sketch_camera, const SlotTask& task,
                                        const MeasureOptions& options, EdgeModelStore& models);

}  // namespace jigtrue
