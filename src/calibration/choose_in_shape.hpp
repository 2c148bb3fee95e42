// The sheet's own shape beside the lens: fitted where the photos show it, and the models chosen anew in it. Internal.
#pragma once
#include <optional>
#include <vector>

#include "calibration/choose_lens.hpp"
#include "calibration/corner_noise.hpp"

namespace jigtrue {

// Views as they were fitted, without those that were not used; empty when one cannot be.
[[nodiscard]] std::vector<FittedView> fitted_views(const ModelFit& fit, const std::vector<bundle::View>& views,
                                                   const bundle::Settings& settings);

// The shape fitted along with the lens, where the photos show that the sheet has one.
[[nodiscard]] std::optional<bundle::BoardShape> shape_that_shows(const Choice& flat);

// Chosen anew on points of that shape: what was left out, and which model seemed best, may have been the sheet's doing.
// Only when left-out photos are then foreseen better.
[[nodiscard]] std::optional<Choice> choose_in_shape(const Choice& flat, const bundle::BoardShape& shape,
                                                    const std::vector<LensView>& named, int width_px, int height_px,
                                                    const LensFitOptions& options);

}  // namespace jigtrue
