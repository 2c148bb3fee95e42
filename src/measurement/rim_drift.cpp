#include "jigtrue/measurement/rim_drift.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "measurement/shown_variance.hpp"
#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr int kTerms = 7;  // once, and the cosine and sine of once, twice, three times round
using Terms = Eigen::Matrix<double, kTerms, 1>;

Terms terms_at(double angle_rad) {
  Terms terms;
  terms << 1.0, std::cos(angle_rad), std::sin(angle_rad), std::cos(2.0 * angle_rad), std::sin(2.0 * angle_rad),
      std::cos(3.0 * angle_rad), std::sin(3.0 * angle_rad);
  return terms;
}

}  // namespace

std::optional<double> rim_place_variance(const OutlineFit& fit) {
  constexpr int kFewestOfAPart = 2;    // or a gap in the rim lets its terms run free there
  constexpr int kFewest = kTerms + 2;  // to leave some freedom
  Eigen::Matrix<double, kTerms, kTerms> normal = Eigen::Matrix<double, kTerms, kTerms>::Zero();
  Terms right = Terms::Zero();
  std::array<int, kOutlineParts> used{};
  int all = 0;
  double px_per_mm = 0.0;
  for (const EdgeBlock& block : fit.blocks) {
    if (!block.used) continue;
    const Terms terms = terms_at(std::atan2(block.normal_px.y(), block.normal_px.x()));
    normal += terms * terms.transpose();
    right += block.edge.position_px * terms;
    ++used[static_cast<std::size_t>(block.part)];
    ++all;
    px_per_mm = std::max(px_per_mm, block.by_place.head<2>().norm());
  }
  if (all < kFewest || *std::min_element(used.begin(), used.end()) < kFewestOfAPart || !(px_per_mm > 0.0))
    return std::nullopt;
  const Terms shown = normal.ldlt().solve(right);
  if (!shown.allFinite()) return std::nullopt;
  // What drifts has no length of its own: its power falls as 1 / k (flicker noise; Keshner, Proc. IEEE 70(3), 1982).
  const double once_px2 = 2.0 * shown.segment<2>(3).squaredNorm() + 3.0 * shown.segment<2>(5).squaredNorm();
  constexpr double kShown = 4.0;  // coefficients: two harmonics, sine and cosine
  const double prior_mm2 = 0.5 * std::max(fit.covariance(kAcross, kAcross) + fit.covariance(kAlong, kAlong), 0.0);
  return shown_variance(prior_mm2, once_px2 / (px_per_mm * px_per_mm), kShown);
}

}  // namespace jigtrue
