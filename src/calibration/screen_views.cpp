#include "calibration/screen_views.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

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
constexpr std::ptrdiff_t kFewestCorners = 8;  // sixteen coordinates, six of which the pose takes up

double typical(const ModelFit& fit) {
  std::vector<double> finite;
  for (const double m : fit.view_median_px) {
    if (std::isfinite(m)) finite.push_back(m);
  }
  return median_or_infinity(finite);
}

Verdict judge_view(const std::vector<ModelFit>& fits, const std::vector<double>& usual, std::size_t view) {
  bool posed = false;
  for (std::size_t k = 0; k < fits.size(); ++k) {
    const double own = fits[k].view_median_px[view];
    posed = posed || std::isfinite(own);
    if (own <= std::max(kViewFactor * usual[k], kNegligible_px)) return Verdict::used;
  }
  return posed ? Verdict::contradicts : Verdict::no_view;
}

}  // namespace

Screening screen_views(const std::vector<ModelFit>& fits, const std::vector<bundle::View>& views) {
  std::vector<double> usual;
  usual.reserve(fits.size());
  for (const ModelFit& fit : fits) usual.push_back(typical(fit));
  Screening result;
  for (std::size_t i = 0; i < views.size(); ++i) {
    Verdict verdict = judge_view(fits, usual, i);
    std::vector<char> used(views[i].points.size(), 0);
    for (std::size_t j = 0; j < used.size(); ++j) {
      const double root = std::sqrt(views[i].weight[j]);
      for (std::size_t k = 0; k < fits.size(); ++k) {
        const double sigma = std::max(usual[k], fits[k].view_median_px[i]) * kSigmaPerMedian;
        const double limit = std::max(kPointSigmas * sigma, kNegligiblePoint_px);
        if (root * fits[k].distance_px[i][j] <= limit) used[j] = 1;
      }
    }
    const auto kept = std::count(used.begin(), used.end(), char{1});
    if (verdict == Verdict::used &&
        static_cast<double>(kept) < (1.0 - kMostOutliers) * static_cast<double>(used.size()))
      verdict = Verdict::contradicts;
    else if (verdict == Verdict::used && kept < kFewestCorners)
      verdict = Verdict::few_corners;
    result.verdict.push_back(verdict);
    result.point_used.push_back(std::move(used));
  }
  return result;
}

void weigh_points(const std::vector<ModelFit>& fits, std::vector<bundle::View>& views) {
  std::vector<double> variances;
  for (const bundle::View& view : views)
    for (const SeenPoint& p : view.points) variances.push_back(p.sigma_px * p.sigma_px);
  const double usual = median_or_infinity(variances);
  double left_px = std::numeric_limits<double>::infinity();
  for (const ModelFit& fit : fits) left_px = std::min(left_px, typical(fit) * kSigmaPerMedian);
  // A corner's sigma is itself an estimate, good to a fifth or so: none is believed to be much surer than the usual
  // one.
  constexpr double kLeastCommon = 0.25;
  const double common = std::max(left_px * left_px - usual, kLeastCommon * usual);
  for (bundle::View& view : views)
    for (std::size_t j = 0; j < view.points.size(); ++j)
      view.weight[j] = (usual + common) / (view.points[j].sigma_px * view.points[j].sigma_px + common);
}

}  // namespace jigtrue
