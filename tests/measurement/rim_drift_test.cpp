// What a rim that shows its edge further out here and further in there does to a disc's place, against drifts drawn at
// random.
#include "jigtrue/measurement/rim_drift.hpp"

#include <array>
#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr int kBlocksOfRim = 24;
constexpr double kRimPxPerMm = 5.0;

// Fourier coefficients 1 to 6 of what a rim's edge lies off, px, drawn as flicker noise: variances as 1 / k.
class RimOff {
 public:
  RimOff(double size_px, std::mt19937& random) {
    std::normal_distribution<double> normal;
    for (int k = 1; k <= 6; ++k) {
      const double sigma_px = size_px / std::sqrt(static_cast<double>(k));
      const double along_px = sigma_px * normal(random);
      coefficients_.at(static_cast<std::size_t>(k)) = {along_px, sigma_px * normal(random)};
    }
  }
  [[nodiscard]] double at(double angle_rad) const {
    double sum = 0.0;
    for (unsigned k = 1; k < coefficients_.size(); ++k) sum += coefficients_.at(k).dot(unit_vector(k * angle_rad));
    return sum;
  }
  // What a fit takes for a shift.
  [[nodiscard]] Vector2d once_px() const { return coefficients_[1]; }

 private:
  std::array<Vector2d, 7> coefficients_{};
};

OutlineFit rim_fit_of(const RimOff& off, double prior_mm) {
  OutlineFit fit;
  fit.covariance(kAcross, kAcross) = prior_mm * prior_mm;
  fit.covariance(kAlong, kAlong) = prior_mm * prior_mm;
  for (int i = 0; i < kBlocksOfRim; ++i) {
    EdgeBlock block;
    block.part = kAllOutlineParts.at(static_cast<std::size_t>(i * kOutlineParts / kBlocksOfRim));
    block.used = true;
    const double angle_rad = 2.0 * kPi * i / kBlocksOfRim;
    block.normal_px = unit_vector(angle_rad);
    block.by_place.head<2>() = kRimPxPerMm * block.normal_px;
    // the place is the fit's: what goes once round is in it already
    block.edge.position_px = off.at(angle_rad) - off.once_px().dot(block.normal_px);
    fit.blocks.push_back(block);
  }
  return fit;
}

// Whatever the size of what it lies off, and though each disc shows it only a few times.
TEST(RimDrift, WhatIsStatedHoldsThePlaceNinetyFiveTimesInAHundred) {
  constexpr int kDraws = 4000;
  std::mt19937 random(5);
  for (const double size_px : {0.05, 0.3, 1.0}) {
    int inside = 0;
    for (int i = 0; i < kDraws; ++i) {
      const RimOff off(size_px, random);
      const auto variance_mm2 = rim_place_variance(rim_fit_of(off, size_px / kRimPxPerMm));
      ASSERT_TRUE(variance_mm2.has_value());
      inside += std::abs(off.once_px().x()) / kRimPxPerMm <= 1.96 * std::sqrt(*variance_mm2);
    }
    // Student's t with 4.5 degrees of freedom, stated with its own standard deviation, 94.5 %; a share of 4,000 is
    // known to 0.35 %
    EXPECT_NEAR(static_cast<double>(inside) / kDraws, 0.95, 0.015) << size_px << " px";
  }
}

TEST(RimDrift, ARimThatLiesWhereItShouldIsKnownBetterThanTheFitAllows) {
  std::mt19937 random(5);
  const auto variance_mm2 = rim_place_variance(rim_fit_of(RimOff(0.0, random), 0.1));
  ASSERT_TRUE(variance_mm2.has_value());
  EXPECT_NEAR(*variance_mm2, 0.5 / 2.5 * 0.01, 1e-9);
}

TEST(RimDrift, SaysNothingWhereAQuarterOfTheRimIsHidden) {
  std::mt19937 random(5);
  OutlineFit fit = rim_fit_of(RimOff(0.3, random), 0.1);
  for (EdgeBlock& block : fit.blocks) block.used = block.part != OutlinePart::end;
  EXPECT_FALSE(rim_place_variance(fit).has_value());
}

}  // namespace
}  // namespace jigtrue
