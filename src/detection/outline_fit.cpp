#include "jigtrue/detection/outline_fit.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "detection/edge_blocks.hpp"
#include "detection/side_votes.hpp"

namespace jigtrue {
namespace {

constexpr int kRounds = 3;  // fits, each from the place that the last one found
// For judging sizes a limb's shading is given more room (dark, glossy or wood on wood).
constexpr double kLimbForSizePx = 0.4;

// The girth by itself: the same edges, the same weights, no prior.
void free_girth(const PlacePriors& priors, const Solution& solution, OutlineFit& fit) {
  OutlineFitOptions open = priors.options;
  open.girth_sigma_mm.reset();
  open.limb_sigma_px = kLimbForSizePx;
  const Solution freely =
      solve(fit.blocks, solution.weights, solution.scatter_px, {open, priors.laid_at, priors.turns}, Told::all);
  fit.girth_free_mm = fit.place.girth_mm + freely.unknowns[kGirth];
  fit.girth_free_sigma_mm = std::sqrt(std::max(freely.covariance(kGirth, kGirth), 0.0));
}

void describe_parts(OutlineFit& fit) {
  for (std::size_t p = 0; p < kOutlineParts; ++p) {
    PartQuality& quality = fit.parts[p];
    std::vector<double> residuals;
    std::vector<double> misfit_ratios;
    std::vector<double> strengths;
    for (const EdgeBlock& block : fit.blocks) {
      if (static_cast<std::size_t>(block.part) != p) continue;
      ++quality.blocks;
      if (!block.used) continue;
      ++quality.used;
      residuals.push_back(std::abs(block.residual_px));
      misfit_ratios.push_back(block.edge.misfit_ratio);
      strengths.push_back(block.edge.strength);
    }
    quality.scatter_px = kSigmaOfMad * median(residuals).value_or(0.0);
    quality.misfit_ratio = median(misfit_ratios).value_or(0.0);
    quality.strength = median(strengths).value_or(0.0);
  }
}

BlankPlace moved(const BlankPlace& place, const VectorXd& step) {
  BlankPlace result = place;
  const Vector2d along = place.along();
  const Vector2d across = place.across();
  result.centre_mm += step[kAcross] * across + step[kAlong] * along;
  result.heading_rad += step[kTurn];
  result.girth_mm += step[kGirth];
  result.length_mm += step[kLength];
  return result;
}

// One round from fit.place on: measures the outline there and moves the place. Not when that runs away.
struct Round {
  double range_px;
  bool across_walls;
  bool last;
};
bool step(const View& view, const OutlineFitOptions& options, const Round& round, OutlineFit& fit) {
  fit.blocks = measure_blocks(view, fit.place, {round.range_px, round.across_walls, options.curved_shade});
  if (fit.blocks.size() < 4) return false;
  const PlacePriors priors{options, fit.place, !view.is_disc()};
  const Solution solution = solve_robustly(fit.blocks, priors);
  if (!solution.unknowns.allFinite()) return false;
  fit.covariance = solution.covariance.topLeftCorner<kFittedParameters, kFittedParameters>();
  fit.response = solution.response.topRows<kFittedParameters>();
  if (round.last) free_girth(priors, solution, fit);
  fit.place = moved(fit.place, solution.unknowns);
  return solution.unknowns.head<2>().norm() <= 20.0 && std::abs(solution.unknowns[kTurn]) <= 0.3;
}

// How far the outline of `other`, nearly the same place, lies from this fit's where it is furthest, px.
double furthest_apart_px(const OutlineFit& fit, const BlankPlace& other) {
  const Vector2d along = fit.place.along();
  const Vector2d across = fit.place.across();
  const Vector2d apart_mm = other.centre_mm - fit.place.centre_mm;
  Eigen::Matrix<double, kFittedParameters, 1> change;
  change[kAcross] = apart_mm.dot(across);
  change[kAlong] = apart_mm.dot(along);
  change[kTurn] = std::remainder(other.heading_rad - fit.place.heading_rad, 2.0 * kPi);
  change[kGirth] = other.girth_mm - fit.place.girth_mm;
  change[kLength] = other.length_mm - fit.place.length_mm;
  double most = 0.0;
  for (const EdgeBlock& block : fit.blocks)
    most = std::max(most, std::abs(block.by_place.head<kFittedParameters>().dot(change)));
  return most;
}

// Which of the known places a fit has come upon: so near that the next rounds look at the same edges.
std::optional<std::size_t> come_upon(const OutlineFit& fit, const OutlineFitOptions& options) {
  constexpr double kSame_px = 0.35;  // nearer than edges are told apart: the same reading met again
  for (std::size_t i = 0; i < options.known.size(); ++i) {
    const OutlineFit& known = *options.known[i];
    if (known.girth_centre_mm == fit.girth_centre_mm && known.length_centre_mm == fit.length_centre_mm &&
        furthest_apart_px(fit, known.place) < kSame_px)
      return i;
  }
  return std::nullopt;
}

}  // namespace

std::optional<OutlineFit> fit_outline(const View& view, const BlankPlace& start, const OutlineFitOptions& options) {
  OutlineFit fit;
  fit.place = start;
  fit.girth_centre_mm = options.girth_centre_mm;
  fit.length_centre_mm = options.length_centre_mm;
  const double further_px = std::max(2.0, 0.7 * options.range_px);
  for (int i = 0; i < kRounds; ++i) {
    const Round round{i == 0 ? options.range_px : further_px, i == 0, i + 1 == kRounds};
    if (!step(view, options, round, fit)) return std::nullopt;
    if (round.last) break;
    fit.known = come_upon(fit, options);
    if (fit.known) return fit;
  }
  describe_parts(fit);
  return fit;
}

}  // namespace jigtrue
