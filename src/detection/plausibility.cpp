#include "jigtrue/detection/plausibility.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "detection/plausibility_weights.hpp"

namespace jigtrue {
namespace {

double log_gain(double gain) { return std::log(std::clamp(gain, 1.0, 30.0)); }

double scatter_px(const PartQuality& part) {
  constexpr double kMost = 2.0;
  return part.used > 0 ? std::min(part.scatter_px, kMost) : kMost;
}

// Share of the edges of at least this gain, met near the outline, that lie on it. An outline laid over something else
// passes by plain edges, or weaves between two of them.
double edges_on_outline(const OutlineFit& fit, double least_gain) {
  constexpr double kOnOutlinePx = 0.5;
  int seen = 0;
  int on_outline = 0;
  for (const EdgeBlock& block : fit.blocks) {
    if (block.edge.gain < least_gain) continue;
    ++seen;
    if (!block.edge.at_rim && std::abs(block.residual_px) <= kOnOutlinePx) ++on_outline;
  }
  return seen > 0 ? static_cast<double>(on_outline) / seen : 0.0;
}

// What a surface looks like apart from how brightly it is lit: chroma over luma, percent.
using Colour = Eigen::Vector2d;
Colour colour_of(const std::array<double, kChannels>& level) {
  constexpr double kDark = 16.0;  // keeps the noise of dark surfaces finite
  return 100.0 / (std::max(level[0], 0.0) + kDark) * Colour(level[1], level[2]);
}

// How a part's surface differs from what lies beside it.
struct Contrast {
  double colour = 0.0;      // logarithm
  double brightness = 0.0;  // logarithm of the ratio, without its sign
  Colour inside = Colour::Zero();
};
Contrast contrast_of(const OutlineFit& fit, OutlinePart part) {
  constexpr double kDark = 4.0;
  std::vector<double> colours;
  std::vector<double> brightness;
  std::array<std::vector<double>, 2> inside;
  for (const EdgeBlock& block : fit.blocks) {
    if (block.part != part) continue;
    const Colour own = colour_of(block.inside);
    colours.push_back((own - colour_of(block.outside)).norm());
    brightness.push_back(std::log((block.inside[0] + kDark) / (block.outside[0] + kDark)));
    inside[0].push_back(own[0]);
    inside[1].push_back(own[1]);
  }
  const auto middle = [](const std::vector<double>& values) { return median(values).value_or(0.0); };
  return {std::log1p(middle(colours)), std::abs(middle(brightness)), Colour(middle(inside[0]), middle(inside[1]))};
}

template <std::size_t N>
double weighed(const std::array<double, N>& traits, const Weights<N>& weights) {
  double sum = weights.constant;
  for (std::size_t i = 0; i < N; ++i) sum += weights.of[i] * traits[i];
  return sum;
}

}  // namespace

double log_odds(double probability) { return std::log(probability / (1.0 - probability)); }

ReadingTraits traits_of(const Reading& reading, const Blank& blank, double ends_at_expected) {
  constexpr double kUnseenCorners = 0.6;  // about what the corners of real plates show
  const PartQuality& left = reading.fit.part(OutlinePart::left);
  const PartQuality& right = reading.fit.part(OutlinePart::right);
  const PartQuality& start = reading.fit.part(OutlinePart::start);
  const PartQuality& end = reading.fit.part(OutlinePart::end);
  const Contrast on_left = contrast_of(reading.fit, OutlinePart::left);
  const Contrast on_right = contrast_of(reading.fit, OutlinePart::right);
  const Contrast at_start = contrast_of(reading.fit, OutlinePart::start);
  const Contrast at_end = contrast_of(reading.fit, OutlinePart::end);
  const double beyond_tolerance_mm =
      reading.declared_size ? std::max(0.0, std::abs(reading.fit.girth_free_mm) - blank.diameter_tolerance_mm) : 0.0;
  return {log_gain(std::min(left.gain, right.gain)),
          log_gain(std::max(left.gain, right.gain)),
          std::max(scatter_px(left), scatter_px(right)),
          std::min(scatter_px(left), scatter_px(right)),
          std::min(left.share(), right.share()),
          log_gain(std::max(start.gain, end.gain)),
          std::min(start.share(), end.share()),
          std::max(start.share(), end.share()),
          std::max(scatter_px(start), scatter_px(end)),
          std::min(scatter_px(start), scatter_px(end)),
          reading.ends_support,
          reading.support,
          ends_quality(reading),
          reading.runs_on,
          beyond_tolerance_mm,
          edges_on_outline(reading.fit, 4.0),
          edges_on_outline(reading.fit, 2.0),
          reading.evidence_per_block(),
          ends_at_expected,
          reading.corners.value_or(kUnseenCorners),
          std::min(on_left.colour, on_right.colour),
          std::max(at_start.colour, at_end.colour),
          std::min(on_left.brightness, on_right.brightness),
          std::log1p((on_left.inside - on_right.inside).norm()),
          std::log1p((on_left.inside + on_right.inside - at_start.inside - at_end.inside).norm())};
}

double log_odds_of_blank(const ReadingTraits& traits, const BlankShape& shape) {
  return weighed(traits, is_flat(shape) ? kFlatBlank : kRevolutionBlank);
}

SlotTraits traits_of(const Readings& readings) {
  constexpr double kLeast = -10.0;  // log odds where there is no reading
  SlotTraits traits{kLeast, kLeast, 0.0, 0.0, readings.ends_support, readings.support,
                    0.0,    1.0,    0.0, 0.0, readings.chance};
  auto most = [](double& value, double other) { value = std::max(value, other); };
  for (const auto* list : {&readings.declared, &readings.other_sizes}) {
    const std::size_t other = list == &readings.declared ? 0 : 1;
    for (const Reading& reading : *list) {
      most(traits[other], reading.log_odds);
      most(traits[2 + other], ends_quality(reading));
      most(traits[6], reading.ends_support);
      traits[7] = std::min(traits[7], reading.runs_on);
      most(traits[8], edges_on_outline(reading.fit, 2.0));
      most(traits[9], reading.evidence_per_block());
    }
  }
  return traits;
}

double log_odds_of_empty(const SlotTraits& traits, const BlankShape& shape) {
  return weighed(traits, is_flat(shape) ? kFlatEmpty : kRevolutionEmpty);
}

}  // namespace jigtrue
