// The size that a photo shows, of all that it may.
#pragma once
#include "measurement/size_trial.hpp"

namespace jigtrue {

// The size that most of the picture speaks for. Throws where another one is spoken for about as much.
[[nodiscard]] SizeTrial size_seen(const ScoutedLoad& load, const SizesAsked& asked, const ScoutOptions& options,
                                  EdgeModelStore& models);

}  // namespace jigtrue
