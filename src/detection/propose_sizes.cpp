#include "jigtrue/detection/propose_sizes.hpp"

#include <algorithm>
#include <variant>

#include "detection/box_sizes.hpp"
#include "detection/sized_places.hpp"

namespace jigtrue {
namespace {

constexpr double kGrowth = 0.15;        // an outline is seen as far off as that
constexpr double kMostGrowth_mm = 3.2;  // and no further than about a cell of the view
double next_girth(double girth_mm) { return girth_mm + std::min(kGrowth * girth_mm, kMostGrowth_mm); }

void add_places(const std::vector<ProposedPlace>& proposed, double girth_mm, double length_mm,
                std::vector<SizedPlace>& places) {
  for (const ProposedPlace& each : proposed) {
    places.push_back({each.place, each.support});
    places.back().place.girth_mm = girth_mm;
    places.back().place.length_mm = length_mm;
  }
}

std::vector<SizedPlace> discs_of_any_size(const Photo& photo, const Camera& camera, const Blank& blank,
                                          const Seat& seat, int threads) {
  constexpr double kFinerViews_mm = 20.0;  // smaller ones need finer views, each its own
  std::vector<SizedPlace> places;
  Blank sized = blank;
  const auto search = [&](double girth_mm) {
    sized.shape = grown(blank.shape, girth_mm - largest_girth_mm(blank.shape), 0.0);
    return BedSearch(photo, camera, sized, seat, threads);
  };
  double girth = 2.0 * kUsual.slimmest_mm;
  for (; girth < kFinerViews_mm; girth = next_girth(girth)) add_places(search(girth).declared(), girth, girth, places);
  const double first = girth;
  for (const BedSearch larger = search(first); girth <= kUsual.largest_mm; girth = next_girth(girth))
    add_places(larger.of_girth(girth - first), girth, girth, places);
  return places;
}

std::vector<ProposedSize> disc_sizes(std::vector<SizedPlace> places) {
  constexpr double kAlike_mm = 2.0;  // nearer sizes are one, seen twice
  std::stable_sort(places.begin(), places.end(),
                   [](const SizedPlace& a, const SizedPlace& b) { return a.support > b.support; });
  return most_supported(places, {kAlike_mm, kUsual.largest_mm});
}

}  // namespace

std::vector<ProposedSize> propose_sizes(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                        const SizesWanted& wanted, int threads) {
  if (std::holds_alternative<DiscBlank>(blank.shape))
    return disc_sizes(discs_of_any_size(photo, camera, blank, seat, threads));
  return box_sizes(photo, camera, blank, seat, wanted, threads);
}

}  // namespace jigtrue
