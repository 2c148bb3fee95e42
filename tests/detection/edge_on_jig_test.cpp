// Profiles across a groove's wall and a blank upon it, made by brute force: sharp, then blurred by summing.
#include "jigtrue/detection/edge_fit.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include "detection/blurred.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using Profiles = std::array<std::vector<double>, kChannels>;
constexpr double kWall_px = 2.0;  // where the jig shows an edge of its own
constexpr double kRadius_px = 27.0;

double jig_at(double x) { return x < kWall_px ? 118.0 : 126.0; }

double blank_at(double depth_px) {
  const double u = 1.0 - std::clamp(depth_px / kRadius_px, 0.0, 1.0);
  return 112.0 + 30.0 * std::sqrt(1.0 - u * u);
}

Profiles seen(const EdgeModel& model, const std::function<double(double)>& sharp, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> noise(0.0, 0.15);
  Profiles profile;
  for (auto& channel : profile) channel.assign(static_cast<std::size_t>(model.columns()), 0.0);
  const double blur = model.options().blur_px;
  for (int j = 0; j < model.columns(); ++j) {
    const double x = model.first_px() + j * model.options().step_px;
    profile[0][static_cast<std::size_t>(j)] = test::blurred(sharp, x, blur) + noise(random);
  }
  return profile;
}

EdgeModel limb_model() {
  EdgeModelOptions options;
  options.radius_px = kRadius_px;
  options.chroma = false;
  options.curved_shade = false;
  return EdgeModel(options);
}

constexpr EdgeSearch kSearch{{0, 1}, 3.0};
constexpr std::array<double, kChannels> kNoise{0.15, 0.15, 0.15};
// The bare jig's own noise is left where the jig explains a profile, and not where smooth light does: with as many
// values as a profile has, no more than this of a misfit ratio.
constexpr double kNoiseMakes = 4.0;

struct Fits {
  EdgeFit plain;
  EdgeFit on_jig;
};
Fits fits(const std::function<double(double)>& load, std::uint32_t seed) {
  const EdgeModel model = limb_model();
  const Profiles profile = seen(model, load, seed);
  const Profiles bare = seen(model, jig_at, seed + 100);
  const EdgeFit plain = model.fit(profile, kNoise, kSearch);
  return {plain, model.fit_on_jig(profile, kNoise, kSearch, {bare, 0.1}, plain)};
}

TEST(EdgeOnJig, TheJigsOwnEdgeUnderAnotherLightIsNone) {
  for (const std::uint32_t seed : {1U, 2U, 3U, 4U}) {
    const Fits both = fits([](double x) { return (0.9 + 0.01 * x) * jig_at(x + 0.1); }, seed);
    EXPECT_GT(both.plain.misfit_ratio, 5.0 * kNoiseMakes);
    EXPECT_LT(both.on_jig.misfit_ratio, kNoiseMakes);
  }
}

TEST(EdgeOnJig, ALimbAsBrightAsTheJigIsFoundBesideTheJigsOwnEdge) {
  for (const double edge_px : {-0.8, 0.0, 0.6}) {
    const auto load = [&](double x) { return x > edge_px ? 0.93 * jig_at(x) : blank_at(edge_px - x); };
    const Fits both = fits(load, 7);
    constexpr double kSigmas = 3.0;
    EXPECT_GT(std::abs(both.plain.position_px - edge_px), 1.0);  // at the wall
    EXPECT_NEAR(both.on_jig.position_px, edge_px, kSigmas * both.on_jig.sigma_px);
    EXPECT_LT(both.on_jig.sigma_px, 0.3);
  }
}

}  // namespace
}  // namespace jigtrue
