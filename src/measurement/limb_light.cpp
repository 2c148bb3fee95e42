#include "jigtrue/measurement/limb_light.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/image/sensor_range.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

namespace jigtrue {
namespace {

// Median over a side's stretches.
template <class Of>
std::optional<double> of_side(const OutlineFit& fit, OutlinePart part, const Of& of) {
  std::vector<double> values;
  for (const EdgeBlock& block : fit.blocks) {
    if (block.part != part || block.rim) continue;
    if (const std::optional<double> value = of(block)) values.push_back(*value);
  }
  return median(values);
}

// Left over right; 1 where either is not known.
template <class Of>
double between_sides(const OutlineFit& fit, const Of& of) {
  const auto left = of_side(fit, OutlinePart::left, of);
  const auto right = of_side(fit, OutlinePart::right, of);
  return left && right ? *left / *right : 1.0;
}

double linear_light(double level) {
  constexpr double kGamma = 2.2;  // near enough for any camera's curve
  return std::pow(std::max(level, kDarkest), kGamma);
}

std::optional<double> level_inside(const EdgeBlock& block) { return std::max(block.inside[0], kDarkest); }

std::optional<double> light_kept(const EdgeBlock& block) {
  if (!block.jig_outside) return std::nullopt;
  return std::max(block.outside[0], kDarkest) / std::max(*block.jig_outside, kDarkest);
}

std::optional<double> light_thrown(const EdgeBlock& block) {
  if (!block.jig_outside) return std::nullopt;
  return (linear_light(block.outside[0]) - linear_light(*block.jig_outside)) / linear_light(block.inside[0]);
}

}  // namespace

LimbLight limb_light(const OutlineFit& fit) {
  return {between_sides(fit, level_inside), between_sides(fit, light_kept),
          std::max(of_side(fit, OutlinePart::left, light_thrown).value_or(0.0),
                   of_side(fit, OutlinePart::right, light_thrown).value_or(0.0))};
}

bool shadow_may_pass_for_a_side(const LimbLight& light) {
  constexpr double kGrain = 1.2;  // by which the wood of either side may differ: in even light seen up to 1.1
  const double uneven = std::max(light.blank, 1.0 / light.blank);
  const double shade = light.blank > 1.0 ? light.jig : 1.0 / light.jig;
  return uneven > kGrain * std::max(shade, 1.0);
}

bool blank_may_pass_for_its_jig(const LimbLight& light) { return light.thrown > 1.0; }

}  // namespace jigtrue
