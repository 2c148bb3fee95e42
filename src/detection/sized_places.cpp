#include "detection/sized_places.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

namespace jigtrue {
namespace {

constexpr std::size_t kMostSizes = 12;  // handed on; the two most evident of them are judged closely

bool overlap(const SizedPlace& a, const SizedPlace& b) {
  const Vector2d away = b.place.centre_mm - a.place.centre_mm;
  return std::abs(away.dot(a.place.across())) < 0.8 * a.place.girth_mm &&
         std::abs(away.dot(a.place.along())) < 0.8 * a.place.length_mm;
}

// A size that gathers about one outline.
struct GatheredSize {
  ProposedSize size;
  const SizedPlace* seed = nullptr;
  std::vector<const SizedPlace*> members;
};

// All outlines of about the seed's size that do not overlap, those with most support first.
GatheredSize gathered(const std::vector<SizedPlace>& places, const SizeStep& step, const SizedPlace& seed) {
  GatheredSize here{{}, &seed, {}};
  for (const SizedPlace& other : places) {
    if (other.support < kAsPlain * places.front().support) break;
    if (!step.alike(seed, other) || std::any_of(here.members.begin(), here.members.end(), [&](const SizedPlace* known) {
          return overlap(*known, other) || overlap(other, *known);
        }))
      continue;
    here.members.push_back(&other);
    const double weight = other.support * other.support;
    here.size.support += weight;
    here.size.girth_mm += weight * other.place.girth_mm;
    here.size.length_mm += weight * other.place.length_mm;
  }
  here.size.girth_mm /= here.size.support;
  here.size.length_mm /= here.size.support;
  return here;
}

}  // namespace

std::vector<ProposedSize> most_supported(const std::vector<SizedPlace>& places, const SizeStep& step) {
  constexpr std::size_t kMostSeeds = 150;  // plainest outlines about which sizes gather
  std::vector<GatheredSize> sizes;
  for (const SizedPlace& seed : places) {
    if (sizes.size() == kMostSeeds || seed.support < kAsPlain * places.front().support) break;
    sizes.push_back(gathered(places, step, seed));
  }
  std::stable_sort(sizes.begin(), sizes.end(),
                   [](const GatheredSize& a, const GatheredSize& b) { return a.size.support > b.size.support; });
  std::vector<GatheredSize> kept;
  for (const GatheredSize& size : sizes) {
    if (kept.size() == kMostSizes) break;
    if (std::none_of(kept.begin(), kept.end(),
                     [&](const GatheredSize& other) { return step.alike(*size.seed, *other.seed); }))
      kept.push_back(size);
  }
  std::vector<ProposedSize> proposed;
  proposed.reserve(kept.size());
  for (const GatheredSize& size : kept) {
    proposed.push_back(size.size);
    proposed.back().places.reserve(size.members.size());
    for (const SizedPlace* member : size.members) {
      ProposedPlace place{member->place, member->support};
      place.place.girth_mm -= size.size.girth_mm;
      place.place.length_mm = 0.0;
      proposed.back().places.push_back(place);
    }
  }
  return proposed;
}

}  // namespace jigtrue
