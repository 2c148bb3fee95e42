#include "calibration/screen_views.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/format.hpp"

namespace jigtrue {

namespace {

// A photo whose corners typically lie four times as far out as other photos' carries something else than noise: a bent
// board, a moving camera, a grid read wrongly.
constexpr double kViewFactor = 4.0;
// Below this no photo is worth leaving out, however good the others are (rendered photos reach 0.03 px).
constexpr double kNegligible_px = 0.15;
// Distances of two-dimensional normal noise: median 1.177 sigma; beyond 5 sigma lie 4 in a million.
constexpr double kSigmaPerMedian = 1.0 / 1.1774;
constexpr double kPointSigmas = 5.0;
constexpr double kNegligiblePoint_px = 0.05;
constexpr double kMostOutliers = 0.3;

double typical(const ModelFit& fit) {
  std::vector<double> finite;
  for (const double m : fit.view_median_px) {
    if (std::isfinite(m)) finite.push_back(m);
  }
  return median_or_infinity(finite);
}

}  // namespace

Screening screen_views(const std::vector<ModelFit>& fits, const std::vector<bundle::View>& views) {
  Screening result;
  result.view_reason.resize(views.size());
  for (std::size_t i = 0; i < views.size(); ++i) {
    bool far_everywhere = true;
    bool posed_somewhere = false;
    double nearest = 0.0;
    double others = 0.0;
    for (const ModelFit& fit : fits) {
      const double own = fit.view_median_px[i];
      const double usual = typical(fit);
      const bool far_out = !(own <= std::max(kViewFactor * usual, kNegligible_px));
      far_everywhere = far_everywhere && far_out;
      if (std::isfinite(own) && (!posed_somewhere || own < nearest)) {
        posed_somewhere = true;
        nearest = own;
        others = usual;
      }
    }
    if (far_everywhere) {
      result.view_reason[i] =
          posed_somewhere
              ? format(
                    "its corners lie %.2f px from where the other photos put them (those: %.2f px); is the board bent, "
                    "moving or partly hidden there?",
                    nearest, others)
              : "its corners fit no view of a flat board through the lens that the other photos show";
    }
    std::vector<char> used(views[i].points.size(), 1);
    std::size_t left_out = 0;
    for (std::size_t j = 0; j < used.size(); ++j) {
      bool far_out = true;
      for (const ModelFit& fit : fits) {
        const double usual = std::max(typical(fit), fit.view_median_px[i]) * kSigmaPerMedian;
        const double limit = std::max(kPointSigmas * usual, kNegligiblePoint_px);
        far_out = far_out && !(fit.distance_px[i][j] <= limit);
      }
      if (!far_out) continue;
      used[j] = 0;
      ++left_out;
    }
    if (result.view_reason[i].empty() &&
        static_cast<double>(left_out) > kMostOutliers * static_cast<double>(used.size())) {
      result.view_reason[i] = format("%.0f of its %.0f corners lie far from where they belong",
                                     static_cast<double>(left_out), static_cast<double>(used.size()));
    }
    result.point_used.push_back(std::move(used));
  }
  return result;
}

}  // namespace jigtrue
