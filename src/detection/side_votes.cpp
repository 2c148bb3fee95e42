#include "detection/side_votes.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

namespace jigtrue {
namespace {

// How much of the outline speaks for a solution: every block counts by its misfit ratio, up to a cap, and less the
// further off it lies. The cap keeps one strong edge, say a shadow's, from outweighing many faint ones.
double agreement(const std::vector<EdgeBlock>& blocks) {
  constexpr double kCap = 2.5;        // of a log ratio: one plain edge must not outvote the others
  constexpr double kSpreadPx = 0.35;  // of true edges about the outline
  double sum = 0.0;
  for (const EdgeBlock& block : blocks) {
    if (block.places.empty()) continue;
    const double z = block.residual_px / kSpreadPx;
    sum += std::min(std::log(block.edge.misfit_ratio), kCap) / (1.0 + z * z);
  }
  return sum;
}

// Shifts across and turns that many blocks of the sides agree on, the girth supposed as declared: each block votes for
// all places that its edge may have (the many hypotheses of Vacchetti, Lepetit & Fua, ISMAR 2004).
struct Vote {
  double across_mm = 0.0;
  double turn_rad = 0.0;
  double support = 0.0;
};
std::vector<Vote> votes(const std::vector<EdgeBlock>& blocks, const PlacePriors& priors) {
  constexpr std::size_t kKept = 3;   // most supported places, of which the fit starts
  constexpr double kStepPx = 0.35;   // of the grid of votes: less than edges spread
  constexpr double kSpreadPx = 0.4;  // the same, and half the grid's step
  double px_per_mm = 0.0;
  double half_length_mm = 1.0;
  for (const EdgeBlock& block : blocks) {
    if (!is_side(block.part)) continue;
    px_per_mm = std::max(px_per_mm, std::abs(block.by_place[kAcross]));
    half_length_mm = std::max(half_length_mm, std::abs(block.station_mm));
  }
  if (!(px_per_mm > 0.0) || !priors.turns) return {};
  const double girth_mm = priors.girth_mm();
  const int shifts = static_cast<int>(std::ceil(priors.options.range_px / kStepPx));
  const int turn_steps = static_cast<int>(std::ceil(0.7 * priors.options.range_px / kStepPx));
  std::vector<Vote> all;
  for (int t = -turn_steps; t <= turn_steps; ++t) {
    for (int a = -shifts; a <= shifts; ++a) {
      Vote vote{a * kStepPx / px_per_mm, t * kStepPx / (px_per_mm * half_length_mm), 0.0};
      std::array<double, 2> sides{};
      for (const EdgeBlock& block : blocks) {
        if (!is_side(block.part)) continue;
        const double predicted = block.by_place[kAcross] * vote.across_mm + block.by_place[kTurn] * vote.turn_rad +
                                 block.by_place[kGirth] * girth_mm;
        double best = 0.0;
        for (const EdgePlace& place : block.places) {
          const double z = (place.position_px - predicted) / kSpreadPx;
          best = std::max(best, 1.0 / (1.0 + z * z));
        }
        sides[block.part == OutlinePart::left ? 0 : 1] += best;
      }
      vote.support = std::sqrt(sides[0] * sides[1]);
      all.push_back(vote);
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const Vote& a, const Vote& b) { return a.support > b.support; });
  std::vector<Vote> kept;
  for (const Vote& vote : all) {
    if (kept.size() == kKept) break;
    const bool near = std::any_of(kept.begin(), kept.end(), [&](const Vote& other) {
      return std::abs(vote.across_mm - other.across_mm) * px_per_mm < 1.0 &&
             std::abs(vote.turn_rad - other.turn_rad) * px_per_mm * half_length_mm < 1.0;
    });
    if (!near) kept.push_back(vote);
  }
  return kept;
}

}  // namespace

Solution solve_robustly(std::vector<EdgeBlock>& blocks, const PlacePriors& priors) {
  for (EdgeBlock& block : blocks)
    if (!block.places.empty()) take(block, block.places.front());
  std::vector<EdgeBlock> best_blocks = blocks;
  Solution best = settle(best_blocks, priors);
  double most = agreement(best_blocks);
  for (const Vote& vote : votes(blocks, priors)) {
    std::vector<EdgeBlock> trial = blocks;
    for (EdgeBlock& block : trial)
      if (is_side(block.part))
        choose_place(block, block.by_place[kAcross] * vote.across_mm + block.by_place[kTurn] * vote.turn_rad +
                                block.by_place[kGirth] * priors.girth_mm());
    Solution solution = settle(trial, priors);
    const double value = agreement(trial);
    if (value <= most) continue;
    most = value;
    best = std::move(solution);
    best_blocks = std::move(trial);
  }
  blocks = std::move(best_blocks);
  return solve(blocks, best.weights, best.scatter_px, priors, Told::all);
}

}  // namespace jigtrue
