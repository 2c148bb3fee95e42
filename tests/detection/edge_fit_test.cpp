#include "jigtrue/detection/edge_fit.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include "detection/blurred.hpp"
#include <Eigen/Dense>
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// Profiles are made by brute force: the sharp scene sampled finely and blurred by summing, not by the model's own
// closed forms.
struct Scene {
  double edge_px = 0.0;
  double radius_px = 27.0;
  double blur_px = 0.9;
  double inside_level = 60.0;
  double side_light = 0.0;     // linear in the depth
  double limb_shading = 40.0;  // times the root
  double outside_level = 120.0;
  double outside_slope = 0.0;

  [[nodiscard]] double sharp(double x) const {
    if (x >= edge_px) return outside_level + outside_slope * (x - edge_px);
    const double depth = edge_px - x;
    const double u = 1.0 - std::min(depth / radius_px, 1.0);
    return inside_level + side_light * depth + limb_shading * std::sqrt(1.0 - u * u);
  }
  [[nodiscard]] double seen(double x) const {
    return test::blurred([&](double at) { return sharp(at); }, x, blur_px);
  }
};

std::array<std::vector<double>, kChannels> profile_of(const Scene& scene, const EdgeModel& model) {
  std::array<std::vector<double>, kChannels> profile;
  for (auto& channel : profile) channel.assign(static_cast<std::size_t>(model.columns()), 0.0);
  for (int j = 0; j < model.columns(); ++j)
    profile[0][static_cast<std::size_t>(j)] = scene.seen(model.first_px() + j * model.options().step_px);
  return profile;
}

EdgeModel model_for(const Scene& scene) {
  EdgeModelOptions options;
  options.blur_px = scene.blur_px;
  options.radius_px = scene.radius_px;
  return EdgeModel(options);
}

// The parabola through places 0.1 px apart is off by far less than this; the brute-force blur is good to 0.005 px.
constexpr double kExactPx = 0.02;

TEST(EdgeFit, FindsAShadedLimbExactly) {
  for (const double edge : {-1.63, -0.4, 0.0, 0.27, 1.91}) {
    Scene scene;
    scene.edge_px = edge;
    const EdgeModel model = model_for(scene);
    const EdgeFit fit = model.fit(profile_of(scene, model), {0.0, 0.0, 0.0}, {{0, 1}});
    EXPECT_FALSE(fit.at_rim);
    EXPECT_NEAR(fit.position_px, edge, kExactPx);
  }
}

TEST(EdgeFit, IsNotPulledBySideLightOrAShadowsSlope) {
  Scene scene;
  scene.edge_px = 0.35;
  scene.side_light = 3.0;
  scene.outside_level = 30.0;
  scene.outside_slope = 8.0;
  const EdgeModel model = model_for(scene);
  EXPECT_NEAR(model.fit(profile_of(scene, model), {0.0, 0.0, 0.0}, {{0, 1}}).position_px, 0.35, kExactPx);
}

TEST(EdgeFit, FindsTheEdgeByColourWhereTheLumaHasNone) {
  // a dark limb beside its own shadow: the luma is continuous, only the ratio of chroma to luma steps
  EdgeModelOptions options;
  options.blur_px = 0.9;
  options.chroma_blur_px = 0.0;
  options.radius_px = 0.0;
  const EdgeModel model(options);
  Scene luma;
  luma.edge_px = -0.6;
  luma.radius_px = 1e9;
  luma.limb_shading = 0.0;
  luma.inside_level = 80.0;
  luma.outside_level = 80.0;
  Scene chroma = luma;
  chroma.inside_level = 30.0;
  chroma.outside_level = 2.0;
  auto profile = profile_of(luma, model);
  profile[1] = profile_of(chroma, model)[0];
  const EdgeFit fit = model.fit(profile, {0.0, 0.0, 0.0}, {{0, kChannels}});
  EXPECT_NEAR(fit.position_px, -0.6, kExactPx);
}

TEST(EdgeFit, TellsAWallBesideAnEdgeByItsKnownWidth) {
  EdgeModelOptions options;
  options.blur_px = 0.8;
  options.wall_px = 2.5;
  options.outside_px = 7.0;
  const EdgeModel model(options);
  auto profile = profile_of(Scene{}, model);
  Scene top;  // top face to wall
  top.edge_px = 0.4;
  top.blur_px = 0.8;
  top.radius_px = 1e9;
  top.limb_shading = 0.0;
  top.inside_level = 100.0;
  top.outside_level = 70.0;
  Scene foot = top;  // wall to floor
  foot.edge_px = 0.4 + 2.5;
  foot.inside_level = 0.0;
  foot.outside_level = 80.0;
  for (int j = 0; j < model.columns(); ++j) {
    const double x = model.first_px() + j * options.step_px;
    profile[0][static_cast<std::size_t>(j)] = top.seen(x) + foot.seen(x);
  }
  EXPECT_NEAR(model.fit(profile, {0.0, 0.0, 0.0}, {{0, 1}}).position_px, 0.4, kExactPx);
}

TEST(EdgeFit, AFlatProfileIsNoEdge) {
  EdgeModelOptions options;
  const EdgeModel model(options);
  std::mt19937 random(7);
  std::normal_distribution<double> noise(0.0, 1.0);
  int strong = 0;
  constexpr int kTrials = 400;
  for (int trial = 0; trial < kTrials; ++trial) {
    std::array<std::vector<double>, kChannels> profile;
    for (auto& channel : profile) channel.assign(static_cast<std::size_t>(model.columns()), 0.0);
    for (double& value : profile[0]) value = 90.0 + noise(random);
    if (model.fit(profile, {1.0, 1.0, 1.0}, {{0, 1}}).misfit_ratio > 3.0) ++strong;
  }
  // a misfit ratio of 3 asks the edge to leave a third of the misfit: over 5 terms and 41 places noise gives that in
  // under 2 %
  EXPECT_LE(strong, kTrials / 50);
}

TEST(EdgeFit, StatedSigmaHoldsForNoise) {
  Scene scene;
  scene.edge_px = 0.2;
  const EdgeModel model = model_for(scene);
  const auto clean = profile_of(scene, model);
  std::mt19937 random(11);
  std::normal_distribution<double> noise(0.0, 1.0);
  double squares = 0.0;
  double stated = 0.0;
  constexpr int kTrials = 300;
  for (int trial = 0; trial < kTrials; ++trial) {
    auto profile = clean;
    for (double& value : profile[0]) value += noise(random);
    const EdgeFit fit = model.fit(profile, {1.0, 1.0, 1.0}, {{0, 1}}, Doubt::skipped);
    squares += (fit.position_px - 0.2) * (fit.position_px - 0.2);
    stated += fit.sigma_px * fit.sigma_px;
  }
  // values here are independent, the model counts on every second one being so: it must state up to sqrt(2) too much,
  // not too little
  const double ratio = std::sqrt(stated / squares);
  EXPECT_GT(ratio, 0.9);
  EXPECT_LT(ratio, 1.9);
}

// A blank beside a strip of shadow, and the light beyond it.
EdgeModelOptions options_with_second_edges() {
  EdgeModelOptions options;
  options.blur_px = 0.8;
  options.outside_px = 9.0;
  options.chroma = false;
  options.second_edges = true;
  return options;
}
std::array<std::vector<double>, kChannels> two_edges(const EdgeModel& model, double edge_px, double apart_px) {
  Scene blank;
  blank.edge_px = edge_px;
  blank.blur_px = model.options().blur_px;
  blank.radius_px = 1e9;
  blank.limb_shading = 0.0;
  blank.inside_level = 100.0;
  blank.outside_level = 60.0;
  Scene beyond = blank;
  beyond.edge_px = edge_px + apart_px;
  beyond.inside_level = 0.0;
  beyond.outside_level = 70.0;
  auto profile = profile_of(blank, model);
  const auto added = profile_of(beyond, model);
  for (std::size_t j = 0; j < profile[0].size(); ++j) profile[0][j] += added[0][j];
  return profile;
}
constexpr std::array kApart_px{1.25, 2.0, 2.75, 3.5, 4.5, 5.5, 7.0};  // distances that are tried

TEST(EdgeFit, TellsTheBlanksEdgeFromAnotherOneBeyondIt) {
  const EdgeModel model(options_with_second_edges());
  for (const double apart_px : {1.25, 2.75, 5.5}) {
    const auto profile = two_edges(model, -0.37, apart_px);
    const EdgeFit alone = model.fit(profile, {0.0, 0.0, 0.0}, {{0, 1}});
    const auto both = model.fit_with_second_edge(profile, {0.0, 0.0, 0.0}, {{0, 1}}, {1.6, alone.misfit, 2.5});
    ASSERT_TRUE(both.has_value()) << apart_px;
    EXPECT_NEAR(both->fit.position_px, -0.37, kExactPx) << apart_px;
  }
}

// A raised rim ends within the blank, too: the further one of two edges may be the blank's.
TEST(EdgeFit, TellsTheFurtherOfTwoEdgesWhereEitherMayBeTheBlanks) {
  const EdgeModel model(options_with_second_edges());
  for (const double apart_px : {1.25, 2.75, 4.5}) {
    const double rim_px = 0.63;
    const auto profile = two_edges(model, rim_px - apart_px, apart_px);
    const EdgeFit alone = model.fit(profile, {0.0, 0.0, 0.0}, {{0, 1}});
    const auto both = model.fit_with_second_edge(profile, {0.0, 0.0, 0.0}, {{0, 1}}, {1.6, alone.misfit, 2.5, true});
    ASSERT_TRUE(both.has_value()) << apart_px;
    const bool looked_at = rim_px - apart_px > -3.0;
    EXPECT_TRUE(looked_at || !both->nearer_passes) << apart_px;
    ASSERT_TRUE(both->further.has_value()) << apart_px;
    EXPECT_NEAR(both->further->position_px, rim_px, 2.0 * both->further->sigma_px) << apart_px;
    EXPECT_GE(both->further->misfit_ratio, 2.5) << apart_px;
  }
}

TEST(EdgeFit, FindsNoSecondEdgeBesideOneAlone) {
  const EdgeModel model(options_with_second_edges());
  std::mt19937 random(3);
  std::normal_distribution<double> noise(0.0, 1.0);
  Scene scene;
  scene.radius_px = 1e9;
  scene.limb_shading = 0.0;
  scene.blur_px = model.options().blur_px;
  const auto clean = profile_of(scene, model);
  for (int trial = 0; trial < 100; ++trial) {
    auto profile = clean;
    for (double& value : profile[0]) value += noise(random);
    // of some 30 values that are noise one more term explains one, or several at its best place: never half of all
    const EdgeFit alone = model.fit(profile, {1.0, 1.0, 1.0}, {{0, 1}});
    EXPECT_FALSE(model.fit_with_second_edge(profile, {1.0, 1.0, 1.0}, {{0, 1}}, {1.6, alone.misfit, 2.5}));
  }
}

// The least misfit over all places and distances, each by itself with every column written out: level and slope on
// either side of the edge, blurred in closed form, and the other edge's step (QR of Eigen).
TEST(EdgeFit, WithASecondEdgeIsTheLeastSquaresOfAllColumns) {
  const EdgeModel model(options_with_second_edges());
  std::mt19937 random(5);
  std::normal_distribution<double> noise(0.0, 2.0);
  const double sigma = model.options().blur_px;
  const auto step = [&](double s) { return 0.5 * std::erfc(-s / (sigma * std::sqrt(2.0))); };
  const auto ramp = [&](double s) {
    return s * step(s) + sigma * std::exp(-0.5 * s * s / (sigma * sigma)) / std::sqrt(2.0 * kPi);
  };
  for (int trial = 0; trial < 5; ++trial) {
    auto profile = two_edges(model, 0.5 * trial - 1.0, 2.2 + 0.6 * trial);
    for (double& value : profile[0]) value += noise(random);
    const Eigen::Map<const VectorXd> y(profile[0].data(), model.columns());
    double least = y.squaredNorm();
    for (int place = -29; place <= 29; ++place) {
      for (const double apart_px : kApart_px) {
        MatrixXd columns(model.columns(), 5);
        for (int j = 0; j < model.columns(); ++j) {
          const double s = model.first_px() + j * model.options().step_px - 0.1 * place;
          columns.row(j) << 1.0 - step(s), ramp(s) - s, step(s), ramp(s), step(s - apart_px);
        }
        const VectorXd coefficients = columns.colPivHouseholderQr().solve(y);
        least = std::min(least, (y - columns * coefficients).squaredNorm());
      }
    }
    const auto both = model.fit_with_second_edge(profile, {0.0, 0.0, 0.0}, {{0, 1}}, {0.0, 1e9});
    ASSERT_TRUE(both.has_value());
    // the ridge, 1e-9 of the terms' squares, moves no amount by more than some 1e-6 of itself, the misfit by the square
    EXPECT_NEAR(both->fit.misfit, least / model.columns(), 1e-7 * least / model.columns());
  }
}

TEST(EdgeFit, RefusesWhatItsTablesWereNotMadeFor) {
  EdgeModelOptions options;
  options.chroma = false;
  const EdgeModel model(options);
  const auto profile = profile_of(Scene{}, model);
  EXPECT_THROW((void)model.fit(profile, {0.0, 0.0, 0.0}, {{0, kChannels}}), std::logic_error);
  EXPECT_THROW((void)model.fit(profile, {0.0, 0.0, 0.0}, {{0, 1}, 3.5}), std::logic_error);
  EXPECT_THROW((void)model.fit_with_second_edge(profile, {0.0, 0.0, 0.0}, {{0, 1}}, {}), std::logic_error);
}

// Tables that reach further give the same as tables of just this range.
TEST(EdgeFit, LooksNoFurtherThanAsked) {
  EdgeModelOptions options;
  const EdgeModel wide(options);
  options.range_px = 2.0;
  const EdgeModel just(options);
  Scene scene;
  scene.edge_px = 1.2;
  const auto profile = profile_of(scene, wide);
  const EdgeFit by_wide = wide.fit(profile, {0.0, 0.0, 0.0}, {{0, 1}, 2.0});
  const EdgeFit by_just = just.fit(profile, {0.0, 0.0, 0.0}, {{0, 1}, 2.0});
  // sums over windows begin elsewhere: rounding only
  EXPECT_NEAR(by_wide.position_px, by_just.position_px, 1e-9);
  EXPECT_NEAR(by_wide.misfit_ratio, by_just.misfit_ratio, 1e-6 * by_just.misfit_ratio);
  scene.edge_px = 2.6;
  EXPECT_TRUE(wide.fit(profile_of(scene, wide), {0.0, 0.0, 0.0}, {{0, 1}, 2.0}).at_rim);
}

}  // namespace
}  // namespace jigtrue
