// What limbs that drift along a blank do to its turn, against drifts drawn at random.
#include "jigtrue/measurement/limb_drift.hpp"

#include <array>
#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr int kBlocksOfLimb = 16;
constexpr double kHalfLimb_mm = 60.0;
constexpr double kLimbPxPerMm = 5.0;

// Legendre coefficients 1 to 5 of one limb's drift, px, drawn as flicker noise: variances as (2 k + 1) / k.
class Drift {
 public:
  Drift(double size_px, std::mt19937& random) {
    std::normal_distribution<double> normal;
    for (int k = 1; k <= 5; ++k)
      coefficients_.at(static_cast<std::size_t>(k)) = size_px * std::sqrt((2.0 * k + 1.0) / (3.0 * k)) * normal(random);
  }
  [[nodiscard]] double at(double t) const {
    double sum = 0.0;
    for (unsigned k = 1; k < coefficients_.size(); ++k) sum += coefficients_.at(k) * std::legendre(k, t);
    return sum;
  }
  [[nodiscard]] double slope_px() const { return coefficients_[1]; }

 private:
  std::array<double, 6> coefficients_{};
};

OutlineFit fit_of(const Drift& left, const Drift& right, double prior_rad) {
  OutlineFit fit;
  fit.covariance(kTurn, kTurn) = prior_rad * prior_rad;
  for (const OutlinePart side : {OutlinePart::left, OutlinePart::right})
    for (int i = 0; i < kBlocksOfLimb; ++i) {
      EdgeBlock block;
      block.part = side;
      block.used = true;
      const double t = (2.0 * i + 1.0) / kBlocksOfLimb - 1.0;
      block.station_mm = t * kHalfLimb_mm;
      const bool is_left = side == OutlinePart::left;
      block.by_place[kTurn] = (is_left ? 1.0 : -1.0) * block.station_mm * kLimbPxPerMm;
      block.edge.position_px = (is_left ? left : right).at(t);
      fit.blocks.push_back(block);
    }
  return fit;
}

// Whatever the drift's size, and though each blank shows it only a few times.
TEST(LimbDrift, WhatIsStatedHoldsTheTurnNinetyFiveTimesInAHundred) {
  constexpr int kDraws = 4000;
  std::mt19937 random(5);
  const double rad_per_px = 1.0 / (kHalfLimb_mm * kLimbPxPerMm);
  for (const double size_px : {0.05, 0.2, 0.6}) {
    // the fit's own says what such limbs may drift by
    const double prior_rad = std::sqrt(0.5) * size_px * rad_per_px;
    int inside = 0;
    for (int i = 0; i < kDraws; ++i) {
      const Drift left(size_px, random);
      const Drift right(size_px, random);
      const double turned = 0.5 * (left.slope_px() - right.slope_px()) * rad_per_px;
      inside += std::abs(turned) <= 1.96 * std::sqrt(turn_variance(fit_of(left, right, prior_rad)));
    }
    // Student's t with 5.5 degrees of freedom, stated with its own standard deviation, 94.6 %; a share of 4,000 is
    // known to 0.35 %, and blocks span no more than 15/16 of the length
    EXPECT_NEAR(static_cast<double>(inside) / kDraws, 0.95, 0.015) << size_px << " px";
  }
}

TEST(LimbDrift, ABlankWhoseLimbsDoNotDriftIsKnownBetterThanTheFitAllows) {
  std::mt19937 random(5);
  const Drift none(0.0, random);
  EXPECT_NEAR(turn_variance(fit_of(none, none, 1e-3)), 0.5 / 3.5 * 1e-6, 1e-12);
}

TEST(LimbDrift, WithoutBothLimbsTheFitsOwnVarianceStands) {
  std::mt19937 random(5);
  const Drift any(0.3, random);
  OutlineFit fit = fit_of(any, any, 1e-3);
  for (EdgeBlock& block : fit.blocks) block.used = block.part == OutlinePart::left;
  EXPECT_DOUBLE_EQ(turn_variance(fit), 1e-6);
}

}  // namespace
}  // namespace jigtrue
