#include "detection/rim_votes.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace jigtrue {
namespace {

// Steps of the search, px along the normal: so far a circle may lie off without losing what agrees with it.
struct RimSteps {
  double step_px = 0.5;
  double px_per_mm = 0.0;        // of a shift
  double girth_px_per_mm = 0.0;  // of the girth

  explicit RimSteps(const std::vector<EdgeBlock>& blocks) {
    for (const EdgeBlock& block : blocks) {
      px_per_mm = std::max(px_per_mm, block.by_place.head<2>().norm());
      girth_px_per_mm = std::max(girth_px_per_mm, std::abs(block.by_place[kGirth]));
    }
  }
  [[nodiscard]] bool known() const { return px_per_mm > 0.0 && girth_px_per_mm > 0.0; }
  [[nodiscard]] bool apart(const RimVote& a, const RimVote& b) const {
    return (a.shift_mm - b.shift_mm).norm() * px_per_mm >= 2.0 * step_px ||
           std::abs(a.girth_mm - b.girth_mm) * girth_px_per_mm >= 2.0 * step_px;
  }
};

std::vector<RimVote> all_votes(const std::vector<EdgeBlock>& blocks, const PlacePriors& priors, const RimSteps& steps) {
  constexpr double kOpenGirth_mm = 0.5;  // standard deviation, where the fit leaves it open
  const double sigma_mm = priors.options.girth_sigma_mm.value_or(kOpenGirth_mm);
  const int shifts = static_cast<int>(std::ceil(priors.options.range_px / steps.step_px));
  const int girths = static_cast<int>(std::ceil(2.0 * sigma_mm * steps.girth_px_per_mm / steps.step_px));
  std::vector<RimVote> all;
  const std::size_t across = 2 * static_cast<std::size_t>(shifts) + 1;
  all.reserve((2 * static_cast<std::size_t>(girths) + 1) * across * across);
  for (int g = -girths; g <= girths; ++g) {
    const double off_mm = g * steps.step_px / steps.girth_px_per_mm;
    const double z = off_mm / sigma_mm;
    for (int x = -shifts; x <= shifts; ++x) {
      for (int y = -shifts; y <= shifts; ++y) {
        RimVote vote{steps.step_px / steps.px_per_mm * Vector2d(x, y), priors.girth_mm() + off_mm, -0.5 * z * z};
        for (const EdgeBlock& block : blocks) vote.support += vote.nearness(block);
        all.push_back(vote);
      }
    }
  }
  return all;
}

}  // namespace

double RimVote::predicted_px(const EdgeBlock& block) const {
  return block.by_place[kAcross] * shift_mm.x() + block.by_place[kAlong] * shift_mm.y() +
         block.by_place[kGirth] * girth_mm;
}

double RimVote::nearness(const EdgeBlock& block) const {
  constexpr double kSpread_px = 0.5;  // of the rim's own edges about their circle
  const double predicted = predicted_px(block);
  double best = 0.0;
  for (const EdgePlace& place : block.places) {
    const double z = (place.position_px - predicted) / kSpread_px;
    best = std::max(best, 1.0 / (1.0 + z * z));
  }
  return best;
}

std::vector<RimVote> rim_votes(const std::vector<EdgeBlock>& blocks, const PlacePriors& priors) {
  constexpr std::size_t kKept = 4;  // most supported circles, of which the fit starts
  const RimSteps steps(blocks);
  if (!steps.known()) return {};
  std::vector<RimVote> all = all_votes(blocks, priors, steps);
  // of a support: what rounding alone would order stays in the order of the search, however the bed is turned
  constexpr double kRounding = 1e-6;
  for (RimVote& vote : all) vote.support = kRounding * std::round(vote.support / kRounding);
  std::stable_sort(all.begin(), all.end(), [](const RimVote& a, const RimVote& b) { return a.support > b.support; });
  std::vector<RimVote> kept;
  for (const RimVote& vote : all) {
    if (kept.size() == kKept) break;
    if (std::all_of(kept.begin(), kept.end(), [&](const RimVote& other) { return steps.apart(vote, other); }))
      kept.push_back(vote);
  }
  return kept;
}

}  // namespace jigtrue
