#include "jigtrue/measurement/common_sizes.hpp"

#include "jigtrue/base/coverage_factor.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestBlanks = 2;  // that agree, to speak of a common size

struct OwnSize {
  double mm = 0.0;
  double sigma_mm = 0.0;
};

bool same_shape(const BlankShape& a, const BlankShape& b) {
  return a.index() == b.index() && std::abs(length_mm(a) - length_mm(b)) < 1e-9 &&
         std::abs(largest_girth_mm(a) - largest_girth_mm(b)) < 1e-9;
}

// Of the largest set of sizes that lie about one of them.
std::optional<CommonMean> mean_of_most(std::vector<OwnSize> sizes) {
  // sums must not hang on the order in which a file lists its slots
  std::sort(sizes.begin(), sizes.end(),
            [](const OwnSize& a, const OwnSize& b) { return a.mm != b.mm ? a.mm < b.mm : a.sigma_mm < b.sigma_mm; });
  std::vector<OwnSize> most;
  for (const OwnSize& about : sizes) {
    std::vector<OwnSize> near;
    for (const OwnSize& other : sizes)
      // what an end's form does to one it does to all: only half of what each may err is its own
      if (std::abs(other.mm - about.mm) <= kSameBlank_mm + 0.5 * std::hypot(about.sigma_mm, other.sigma_mm))
        near.push_back(other);
    if (near.size() > most.size()) most = std::move(near);
  }
  // a joint taken for an end on some of them makes two lengths: then neither is the load's
  if (most.size() < kFewestBlanks || 4 * most.size() < 3 * sizes.size()) return std::nullopt;
  constexpr double kModel_mm = 0.1;  // what a measured size may be off beyond what its edges say
  CommonMean mean;
  double weights = 0.0;
  for (const OwnSize& size : most) {
    const double w = 1.0 / (size.sigma_mm * size.sigma_mm + kModel_mm * kModel_mm);
    weights += w;
    mean.mm += w * size.mm;
  }
  mean.mm /= weights;
  double squares = 0.0;
  for (const OwnSize& size : most) squares += (size.mm - mean.mm) * (size.mm - mean.mm);
  const auto n = static_cast<double>(most.size());
  // a scatter that few blanks show is not known well: no less than blanks of one make may have
  mean.scatter_mm = std::max(std::sqrt(squares / (n - 1.0)), 0.5 * kSameBlank_mm / std::sqrt(n));
  mean.u_mm = mean.scatter_mm / std::sqrt(n);
  mean.blanks = static_cast<int>(most.size());
  return mean;
}

}  // namespace

std::vector<CommonSize> common_sizes(const Fixture& fixture, const std::vector<SlotResult>& slots) {
  std::vector<CommonSize> groups;
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    const auto same = std::find_if(groups.begin(), groups.end(), [&](const CommonSize& group) {
      return same_shape(fixture.slots[group.slots.front()].blank.shape, fixture.slots[i].blank.shape);
    });
    if (same != groups.end()) {
      same->slots.push_back(i);
    } else {
      groups.emplace_back();
      groups.back().slots.push_back(i);
    }
  }
  for (CommonSize& group : groups) {
    std::vector<OwnSize> lengths;
    std::vector<OwnSize> diameters;
    for (const std::size_t i : group.slots) {
      const SlotResult& slot = slots[i];
      if (!tells_of_load(slot)) continue;
      if (slot.length && slot.length->own_mm) lengths.push_back({*slot.length->own_mm, slot.length->own_sigma_mm});
      if (slot.numbers->diameter_mm)
        diameters.push_back(
            {*slot.numbers->diameter_mm, slot.numbers->uncertainty.diameter_mm.value_or(0.0) / kCoverageFactor95});
    }
    group.length = mean_of_most(lengths);
    group.diameter = mean_of_most(diameters);
  }
  return groups;
}

}  // namespace jigtrue
