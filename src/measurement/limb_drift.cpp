#include "jigtrue/measurement/limb_drift.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "measurement/shown_variance.hpp"
#include <Eigen/Dense>

namespace jigtrue {
namespace {

// Coefficients of Legendre's polynomials over a limb's length, px, and what turns it by one px at its ends.
struct LimbModes {
  double slope = 0.0;
  double bend = 0.0;
  double double_bend = 0.0;
  double rad_per_px = 0.0;
};

std::optional<LimbModes> modes_of(const OutlineFit& fit, OutlinePart side) {
  constexpr std::size_t kFewest = 8;  // blocks of a side, or its ends' drift is as much as its scatter
  constexpr double kLeastSpan = 0.6;  // of the length
  std::vector<const EdgeBlock*> blocks;
  double half_mm = 0.0;
  for (const EdgeBlock& block : fit.blocks) {
    if (!is_side(block.part)) continue;
    half_mm = std::max(half_mm, std::abs(block.station_mm));
    if (block.part == side && block.used && !block.rim) blocks.push_back(&block);
  }
  if (blocks.size() < kFewest) return std::nullopt;
  const auto [first, last] =
      std::minmax_element(blocks.begin(), blocks.end(),
                          [](const EdgeBlock* a, const EdgeBlock* b) { return a->station_mm < b->station_mm; });
  if ((*last)->station_mm - (*first)->station_mm < 2.0 * kLeastSpan * half_mm) return std::nullopt;
  Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
  Eigen::Vector4d right = Eigen::Vector4d::Zero();
  double turn_px = 0.0;
  double squares = 0.0;
  for (const EdgeBlock* block : blocks) {
    const double t = block->station_mm / half_mm;
    const Eigen::Vector4d row(1.0, t, 0.5 * (3.0 * t * t - 1.0), 0.5 * (5.0 * t * t * t - 3.0 * t));
    normal += row * row.transpose();
    right += block->edge.position_px * row;
    turn_px += block->by_place[kTurn] * t;
    squares += t * t;
  }
  const Eigen::Vector4d solution = normal.ldlt().solve(right);
  if (!solution.allFinite() || turn_px == 0.0) return std::nullopt;
  return LimbModes{solution[1], solution[2], solution[3], squares / std::abs(turn_px)};
}

double squared(double x) { return x * x; }

}  // namespace

double turn_variance(const OutlineFit& fit) {
  const double prior = std::max(fit.covariance(kTurn, kTurn), 0.0);
  const auto left = modes_of(fit, OutlinePart::left);
  const auto right = modes_of(fit, OutlinePart::right);
  if (!left || !right) return prior;
  // What drifts has no length of its own: the power of its modes falls as 1 / k (flicker noise; Keshner, Proc. IEEE
  // 70(3), 1982). A Legendre coefficient's variance is 2 k + 1 times its mode's, so slope, bend and double bend vary as
  // 3, 5/2 and 7/3.
  constexpr double kSlopeByBend = 3.0 / (5.0 / 2.0);
  constexpr double kSlopeByDoubleBend = 3.0 / (7.0 / 3.0);
  constexpr double kShown = 5.0;
  const double slopes_px2 = squared(left->slope + right->slope) / 2.0 +
                            kSlopeByBend * (squared(left->bend) + squared(right->bend)) +
                            kSlopeByDoubleBend * (squared(left->double_bend) + squared(right->double_bend));
  // half the difference of two slopes, each of that variance
  return shown_variance(prior, 0.5 * slopes_px2 * left->rad_per_px * right->rad_per_px, kShown);
}

}  // namespace jigtrue
