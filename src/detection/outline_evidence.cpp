#include "jigtrue/detection/outline_evidence.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

namespace jigtrue {
namespace {

constexpr double kDisturbed = 0.15;  // share of a good blank's stretches that a clip, a glint or a like ground disturbs
constexpr double kModel_px = 0.2;    // how far the model of an edge may be off where light is unkind

// Rounding to 8 bits leaves 0.29 grey levels, root mean square, and compression as much: what explains no more is none.
constexpr double kVisible = 0.5;

constexpr double kFewest_px = 20.0;  // looked at, as good as: what a few stretches show is little known

std::size_t kind_of(OutlinePart part) { return part == OutlinePart::left || part == OutlinePart::right ? 0 : 1; }

// What a surface looks like apart from how brightly it is lit, and that: chroma over luma in percent, log luma.
Vector3d look_of(const std::array<double, kChannels>& level) {
  constexpr double kDark = 16.0;  // grey levels; keeps the noise of dark surfaces finite
  const double luma = std::max(level[0], 0.0) + kDark;
  return {100.0 * level[1] / luma, 100.0 * level[2] / luma, std::log(luma)};
}

// Normal differences of k parts: all about one mean, itself drawn with `between`, against all about zero; `within`
// each.
double log_ratio_of_a_common_mean(double sum, int k, double within, double between) {
  const double w = within * within;
  const double b = between * between;
  return 0.5 * (sum * sum * b / (w * (w + k * b)) - std::log(1.0 + k * b / w));
}

}  // namespace

void EdgeClutter::add(const std::vector<EdgeBlock>& blocks, double range_px) {
  for (const EdgeBlock& block : blocks) {
    Kind& kind = own_[kind_of(block.part)];
    kind.looked_at_px += 2.0 * range_px;
    for (const EdgePlace& place : block.places)
      if (place.strength >= kVisible) kind.misfit_ratios.push_back(place.misfit_ratio);
  }
}

void EdgeClutter::add(const EdgeClutter& other) {
  for (std::size_t k = 0; k < own_.size(); ++k) {
    own_[k].misfit_ratios.insert(own_[k].misfit_ratios.end(), other.own_[k].misfit_ratios.begin(),
                                 other.own_[k].misfit_ratios.end());
    own_[k].looked_at_px += other.own_[k].looked_at_px;
  }
}

void EdgeClutter::finish() {
  for (Kind& kind : own_) std::sort(kind.misfit_ratios.begin(), kind.misfit_ratios.end(), std::greater<>());
}

void EdgeClutter::beside(const EdgeClutter& elsewhere) {
  elsewhere_.push_back(elsewhere.own_);
  elsewhere_.insert(elsewhere_.end(), elsewhere.elsewhere_.begin(), elsewhere.elsewhere_.end());
}

double EdgeClutter::per_px(OutlinePart part, double misfit_ratio) const {
  const auto density = [&](const Count& count) {
    const Kind& kind = count[kind_of(part)];
    const auto plainer =
        std::upper_bound(kind.misfit_ratios.begin(), kind.misfit_ratios.end(), misfit_ratio, std::greater<>());
    return (static_cast<double>(plainer - kind.misfit_ratios.begin()) + 1.0) / (kind.looked_at_px + kFewest_px);
  };
  double most = elsewhere_.empty() || own_[kind_of(part)].looked_at_px > 0.0 ? density(own_) : 0.0;
  for (const Count& count : elsewhere_) most = std::max(most, density(count));
  return most;
}

bool is_shown(const PartEvidence& part) {
  constexpr double kOnceInAHundred = 4.6;  // log 100
  constexpr double kMost = 0.5;            // half of the stretches: an outline shows where most of it does
  return part.log_ratio >= kOnceInAHundred && part.share() >= kMost;
}

OutlineEvidence evidence_of(const OutlineFit& fit, const EdgeClutter& clutter) {
  OutlineEvidence evidence{};
  for (const EdgeBlock& block : fit.blocks) {
    PartEvidence& part = evidence[static_cast<std::size_t>(block.part)];
    ++part.stretches;
    const double px_per_mm = std::max(block.by_place.head<2>().norm(), 1e-6);
    const double form_px = (kind_of(block.part) == 0 ? kSideForm_mm : kEndsForm_mm) * px_per_mm;
    double ratio = kDisturbed;
    double nearest = 1e9;
    for (const EdgePlace& place : block.places) {
      if (place.strength < kVisible) continue;
      const double off_px = place.position_px - block.edge.position_px + block.residual_px;
      const double sigma_px = std::sqrt(place.sigma_px * place.sigma_px + kModel_px * kModel_px + form_px * form_px);
      const double z = off_px / sigma_px;
      nearest = std::min(nearest, std::abs(z));
      ratio += (1.0 - kDisturbed) * std::exp(-0.5 * z * z) / (std::sqrt(2.0 * kPi) * sigma_px) /
               clutter.per_px(block.part, place.misfit_ratio);
    }
    if (nearest < 3.0) ++part.agreeing;
    part.log_ratio += std::log(ratio);
  }
  return evidence;
}

double two_materials_log_ratio(const OutlineFit& fit) {
  // Shadows and light thrown back change a surface's colour by some percent and its brightness by a third; materials of
  // shops (woods, metals, lacquers, boards) differ by these: common practice, no source.
  constexpr double kColourWithin = 2.0;
  constexpr double kColourBetween = 12.0;
  constexpr double kLightWithin = 0.3;
  constexpr double kLightBetween = 0.6;
  std::array<Vector3d, kOutlineParts> sums;
  sums.fill(Vector3d::Zero());
  std::array<int, kOutlineParts> counts{};
  for (const EdgeBlock& block : fit.blocks) {
    const auto part = static_cast<std::size_t>(block.part);
    sums[part] += look_of(block.inside) - look_of(block.outside);
    ++counts[part];
  }
  Vector3d sum = Vector3d::Zero();
  int parts = 0;
  for (std::size_t p = 0; p < kOutlineParts; ++p) {
    if (counts[p] == 0) continue;
    sum += sums[p] / counts[p];
    ++parts;
  }
  if (parts == 0) return 0.0;
  return log_ratio_of_a_common_mean(sum[0], parts, kColourWithin, kColourBetween) +
         log_ratio_of_a_common_mean(sum[1], parts, kColourWithin, kColourBetween) +
         log_ratio_of_a_common_mean(sum[2], parts, kLightWithin, kLightBetween);
}

}  // namespace jigtrue
