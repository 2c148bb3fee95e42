// Which photos and corners take no part in a fit, and why. Internal.
#pragma once
#include <string>
#include <vector>

#include "calibration/fit_model.hpp"

namespace jigtrue {

enum class Verdict {
  used,
  no_view,      // its corners are no view of a flat board through any of the lenses fitted
  contradicts,  // they typically lie far from where the other photos' lens puts them
  few_corners,  // too few would remain
};

struct Screening {
  std::vector<Verdict> verdict;               // of each view
  std::vector<std::vector<char>> point_used;  // within used views
};

// A photo or corner is left out only when every model's fit finds it far out: a model that does not suit the lens
// would otherwise throw out exactly what speaks against it.
[[nodiscard]] Screening screen_views(const std::vector<ModelFit>& fits, const std::vector<bundle::View>& views);

// Weights by what the corners' own pictures tell of their errors, beside what all have in common (paper, print, model):
// that is what the best fit leaves over of the usual corner's. 1 for the usual corner.
void weigh_points(const std::vector<ModelFit>& fits, std::vector<bundle::View>& views);

}  // namespace jigtrue
