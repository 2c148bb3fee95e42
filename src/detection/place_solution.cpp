#include "detection/place_solution.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "detection/edge_blocks.hpp"
#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr double kTextureSigmaPx = 0.1;     // block noise that the fit of one profile does not know of
constexpr int kShifts = kOutlineParts + 2;  // the two rims have shifts of their own
constexpr int kSlopes = 2;           // of the left and the right limb's shift along the blank: light changes along it
constexpr double kSlopeShare = 0.7;  // of the shift's prior, reached at the blank's ends

int shift_index(const EdgeBlock& block) {
  return block.rim ? kOutlineParts + (block.part == OutlinePart::left ? 0 : 1) : static_cast<int>(block.part);
}

// Prior of each shift: a limb whose place hangs on how it is shaded is trusted less.
// An end whose stretches disagree may as a whole lie off by as much and more: a shadow took part of it.
std::array<double, kShifts> shift_sigmas(const std::vector<EdgeBlock>& blocks, const OutlineFitOptions& options,
                                         const PartScatter& scatter_px) {
  constexpr double kShareOfDoubt = 0.4;    // of how far another shading puts a limb: one sigma
  constexpr double kShareOfScatter = 2.0;  // as much, and more
  double px_per_mm = 1.0;
  std::array<std::vector<double>, kShifts> doubts;
  for (const EdgeBlock& block : blocks) {
    px_per_mm = std::max(px_per_mm, std::abs(block.by_place[kAcross]));
    if (block.edge.misfit_ratio >= kSmallestRatio)
      doubts[static_cast<std::size_t>(shift_index(block))].push_back(block.edge.doubt_px);
  }
  std::array<double, kShifts> sigmas{};
  for (std::size_t s = 0; s < kShifts; ++s) {
    const bool end =
        s == static_cast<std::size_t>(OutlinePart::start) || s == static_cast<std::size_t>(OutlinePart::end);
    const double base =
        s >= kOutlineParts ? options.rim_sigma_mm * px_per_mm : (end ? options.end_sigma_px : options.limb_sigma_px);
    const double disagreement = end ? kShareOfScatter * scatter_px[s] : 0.0;
    sigmas[s] = std::hypot(base, kShareOfDoubt * median(doubts[s]).value_or(0.0), disagreement);
  }
  return sigmas;
}

}  // namespace

double Solution::nuisance(const EdgeBlock& block) const {
  double value = unknowns[kFittedParameters + shift_index(block)];
  if (is_side(block.part))
    value += unknowns[kFittedParameters + kShifts + (block.part == OutlinePart::left ? 0 : 1)] * block.station_mm /
             half_length_mm;
  return value;
}

Solution solve(const std::vector<EdgeBlock>& blocks, const std::vector<double>& weights, const PartScatter& scatter_px,
               const PlacePriors& priors, Told told) {
  constexpr int n = kFittedParameters + kShifts + kSlopes;
  using Unknowns = Eigen::Matrix<double, n, 1>;
  using Square = Eigen::Matrix<double, n, n>;
  double half_length_mm = 1.0;
  for (const EdgeBlock& block : blocks)
    if (is_side(block.part)) half_length_mm = std::max(half_length_mm, std::abs(block.station_mm));
  Square normal = Square::Zero();
  Unknowns right = Unknowns::Zero();
  Eigen::Matrix<double, n, Eigen::Dynamic> design(n, told == Told::all ? static_cast<Eigen::Index>(blocks.size()) : 0);
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    Unknowns row = Unknowns::Zero();
    row.head<kFittedParameters>() = blocks[i].by_place.head<kFittedParameters>().transpose();
    if (!priors.turns) row[kTurn] = 0.0;
    row[kFittedParameters + shift_index(blocks[i])] = 1.0;
    if (is_side(blocks[i].part))
      row[kFittedParameters + kShifts + (blocks[i].part == OutlinePart::left ? 0 : 1)] =
          blocks[i].station_mm / half_length_mm;
    normal += weights[i] * row * row.transpose();
    right += weights[i] * blocks[i].edge.position_px * row;
    if (told == Told::all) design.col(static_cast<Eigen::Index>(i)) = weights[i] * row;
  }
  auto prior = [&](int index, double value, double sigma) {
    normal(index, index) += 1.0 / (sigma * sigma);
    right[index] += value / (sigma * sigma);
  };
  const std::array<double, kShifts> sigmas = shift_sigmas(blocks, priors.options, scatter_px);
  for (int s = 0; s < kShifts; ++s) prior(kFittedParameters + s, 0.0, sigmas[static_cast<std::size_t>(s)]);
  for (int side = 0; side < kSlopes; ++side)
    prior(kFittedParameters + kShifts + side, 0.0, kSlopeShare * sigmas[static_cast<std::size_t>(side)]);
  // weak priors keep what is not seen at all finite: far wider than any jig
  prior(kAcross, 0.0, 50.0);
  prior(kAlong, 0.0, 50.0);
  prior(kTurn, 0.0, priors.turns ? 1.0 : 1e-9);
  prior(kGirth, priors.girth_mm(), priors.options.girth_sigma_mm.value_or(20.0));
  prior(kLength, priors.length_mm(), priors.options.length_sigma_mm.value_or(20.0));
  const Eigen::LDLT<Square> factor(normal);
  Solution solution;
  solution.half_length_mm = half_length_mm;
  solution.unknowns = factor.solve(right);
  if (told == Told::all) {
    solution.covariance = factor.solve(Square::Identity());
    solution.response = factor.solve(design);
  }
  solution.weights = weights;
  solution.scatter_px = scatter_px;
  return solution;
}

void take(EdgeBlock& block, const EdgePlace& place) {
  block.edge.position_px = place.position_px;
  block.edge.sigma_px = place.sigma_px;
  block.edge.misfit_ratio = place.misfit_ratio;
  block.edge.strength = place.strength;
  block.edge.at_rim = false;
}

void choose_place(EdgeBlock& block, double predicted_px) {
  constexpr double kSpreadPx = 0.5;  // how far a true edge lies off the outline predicted by the others, 1 sigma
  // of log ratio against squared distance: a plainer edge may lie a little farther
  constexpr double kWeightOfRatio = 0.5;
  double least = 0.0;
  const EdgePlace* chosen = nullptr;
  for (const EdgePlace& place : block.places) {
    const double z = (place.position_px - predicted_px) / std::hypot(place.sigma_px, kSpreadPx);
    const double cost = z * z - kWeightOfRatio * std::log(place.misfit_ratio);
    if (chosen != nullptr && cost >= least) continue;
    least = cost;
    chosen = &place;
  }
  if (chosen != nullptr) take(block, *chosen);
}

Solution settle(std::vector<EdgeBlock>& blocks, const PlacePriors& priors) {
  constexpr double kCauchy = 2.4;  // 95 % efficient on Gaussian noise (Holland & Welsch 1977)
  PartScatter scatter{};
  scatter.fill(0.3);
  std::vector<double> robust(blocks.size(), 1.0);
  Solution solution;
  for (int round = 0; round < 6; ++round) {
    std::vector<double> weights(blocks.size(), 0.0);
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      EdgeBlock& block = blocks[i];
      if (block.places.empty()) continue;
      if (round > 0) choose_place(block, block.edge.position_px - block.residual_px);
      const double sigma = std::hypot(block.edge.sigma_px, scatter[static_cast<std::size_t>(block.part)]);
      weights[i] = robust[i] / (sigma * sigma);
    }
    solution = solve(blocks, weights, scatter, priors, Told::unknowns);
    std::array<std::vector<double>, kOutlineParts> residuals;
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      EdgeBlock& block = blocks[i];
      block.residual_px = block.edge.position_px -
                          block.by_place.head<kFittedParameters>().dot(solution.unknowns.head<kFittedParameters>()) -
                          solution.nuisance(block);
      if (weights[i] > 0.0) residuals[static_cast<std::size_t>(block.part)].push_back(std::abs(block.residual_px));
    }
    for (std::size_t p = 0; p < kOutlineParts; ++p)
      scatter[p] = std::clamp(kSigmaOfMad * median(residuals[p]).value_or(0.0), kTextureSigmaPx, 1.0);
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      EdgeBlock& block = blocks[i];
      const double scale = std::hypot(block.edge.sigma_px, scatter[static_cast<std::size_t>(block.part)]);
      const double z = block.residual_px / (kCauchy * scale);
      robust[i] = 1.0 / (1.0 + z * z);
      block.weight = robust[i];
      block.used = weights[i] > 0.0 && std::abs(block.residual_px) < 3.5 * scale;
    }
  }
  return solution;
}

}  // namespace jigtrue
