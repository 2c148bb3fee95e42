#include "jigtrue/measurement/lies_across.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestStretches = 8;  // stretches of a side, to tell some from the others

// What a surface looks like: chroma over luma in percent, and how brightly it is lit, log luma in percent.
Vector3d look_of(const EdgeBlock& block) {
  constexpr double kDark = 16.0;  // grey levels; keeps the noise of dark surfaces finite
  const double luma = std::max(block.inside[0], 0.0) + kDark;
  return {100.0 * block.inside[1] / luma, 100.0 * block.inside[2] / luma, 100.0 * std::log(luma)};
}

// How far each look lies from the usual one, of what they usually scatter by.
struct Usual {
  Vector3d look = Vector3d::Zero();
  Vector3d scatter = Vector3d::Zero();
  [[nodiscard]] bool holds(const Vector3d& other) const {
    constexpr double kUnlike = 4.0;  // times the usual scatter
    return ((other - look).cwiseAbs().array() <= kUnlike * scatter.array()).all();
  }
};

Usual usual_look(const std::vector<Vector3d>& looks) {
  // percent; shadows and light thrown back change a surface's colour by as much, and its brightness by a tenth
  const Vector3d least(1.0, 1.0, 5.0);
  Usual usual;
  for (Eigen::Index k = 0; k < 3; ++k) {
    std::vector<double> values;
    values.reserve(looks.size());
    for (const Vector3d& look : looks) values.push_back(look[k]);
    usual.look[k] = median(values).value_or(0.0);
    for (double& value : values) value = std::abs(value - usual.look[k]);
    usual.scatter[k] = std::max(kSigmaOfMad * median(values).value_or(0.0), least[k]);
  }
  return usual;
}

// Stations of the stretches of a side, its first and last left out, that something else seems to lie over.
std::vector<double> covered_mm(const OutlineFit& fit, OutlinePart side) {
  std::vector<const EdgeBlock*> stretches;
  for (const EdgeBlock& block : fit.blocks)
    if (block.part == side && !block.rim) stretches.push_back(&block);
  if (stretches.size() < kFewestStretches) return {};
  std::sort(stretches.begin(), stretches.end(),
            [](const EdgeBlock* a, const EdgeBlock* b) { return a->station_mm < b->station_mm; });
  std::vector<Vector3d> looks;
  looks.reserve(stretches.size());
  for (const EdgeBlock* stretch : stretches) looks.push_back(look_of(*stretch));
  const Usual usual = usual_look(looks);
  std::vector<double> covered;
  for (std::size_t i = 1; i + 1 < stretches.size(); ++i)
    if (!stretches[i]->used && !usual.holds(looks[i])) covered.push_back(stretches[i]->station_mm);
  return covered;
}

}  // namespace

bool something_across(const OutlineFit& fit) {
  return !covered_mm(fit, OutlinePart::left).empty() && !covered_mm(fit, OutlinePart::right).empty();
}

}  // namespace jigtrue
