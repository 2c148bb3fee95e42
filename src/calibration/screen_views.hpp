// Which photos and corners take no part in a fit, and why. Internal.
#pragma once
#include <string>
#include <vector>

#include "calibration/fit_model.hpp"

namespace jigtrue {

struct Screening {
  std::vector<std::string> view_reason;       // empty: the view is used
  std::vector<std::vector<char>> point_used;  // within used views
};

// A photo or corner is left out only when every model's fit finds it far out: a model that does not suit the lens
// would otherwise throw out exactly what speaks against it.
[[nodiscard]] Screening screen_views(const std::vector<ModelFit>& fits, const std::vector<bundle::View>& views);

}  // namespace jigtrue
