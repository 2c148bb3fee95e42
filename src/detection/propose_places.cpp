#include "jigtrue/detection/propose_places.hpp"

#include "jigtrue/detection/coarse_search.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "detection/outline_template.hpp"
#include "detection/proposed_outlines.hpp"

namespace jigtrue {
namespace {

constexpr std::size_t kMostPlaces = 300;  // that are handed on

std::vector<int> other_girths(int girth_cells) {
  std::vector<int> wider;
  const int most = static_cast<int>(0.5 * SearchRange{}.girth_share * girth_cells);
  for (int k = 1; k <= most; k += std::max(1, most / 3)) {
    wider.push_back(k);
    wider.push_back(-k);
  }
  return wider;
}

// The best places, none so near another that the search around the one covers the other.
std::vector<ProposedPlace> distinct(std::vector<ProposedPlace> all, const Blank& blank) {
  constexpr double kAlong_mm = 8.0;  // nearer places along it are one blank's
  constexpr double kTurn_rad = 0.1;  // nearer directions are one blank's
  const bool disc = std::holds_alternative<DiscBlank>(blank.shape);
  const bool turns_alike = !std::holds_alternative<TurnedBlank>(blank.shape);
  const double across_mm = std::min(0.5 * largest_girth_mm(blank.shape), 5.0);
  std::stable_sort(all.begin(), all.end(),
                   [](const ProposedPlace& a, const ProposedPlace& b) { return a.support > b.support; });
  std::vector<ProposedPlace> kept;
  for (const ProposedPlace& here : all) {
    if (kept.size() == kMostPlaces) break;
    const bool near = std::any_of(kept.begin(), kept.end(), [&](const ProposedPlace& other) {
      const Vector2d along(std::cos(other.place.heading_rad), std::sin(other.place.heading_rad));
      const Vector2d away = here.place.centre_mm - other.place.centre_mm;
      if (disc) return away.norm() < across_mm;
      const double turn =
          std::abs(std::remainder(here.place.heading_rad - other.place.heading_rad, turns_alike ? kPi : 2.0 * kPi));
      return std::abs(away.dot(along)) < kAlong_mm &&
             std::abs(along.x() * away.y() - along.y() * away.x()) < across_mm && turn < kTurn_rad;
    });
    if (!near) kept.push_back(here);
  }
  return kept;
}

}  // namespace

double outline_height_mm(const Blank& blank, const Seat& seat) {
  if (is_flat(blank.shape)) return top_face_mm(blank.shape, seat);
  const AxisLine axis = resting_axis(blank.shape, seat);
  return axis.height_at_start_mm + 0.5 * length_mm(blank.shape) * std::sin(axis.tilt_rad);
}

BedSearch::BedSearch(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat, int threads)
    : blank_(blank), threads_(threads) {
  constexpr double kCellsAcross = 8.0;  // of a blank's girth: its edges well apart at the scale of the edges' blur
  constexpr double kFinest_mm = 0.4;    // a cell, however slim the blank
  constexpr double kCoarsest_mm = 1.6;  // a cell, however wide the blank
  constexpr double kBeyond = 0.15;      // of the blank's length: one cut by the picture's rim has its middle there
  BedViewOptions options;
  options.height_mm = outline_height_mm(blank, seat);
  options.mm_per_cell = std::clamp(largest_girth_mm(blank.shape) / kCellsAcross, kFinest_mm, kCoarsest_mm);
  options.beyond_mm = kBeyond * length_mm(blank.shape);
  view_ = bed_view(photo, camera, options);
  if (!view_.picture.empty()) edges_ = edges_of(view_);
}

std::vector<ProposedPlace> BedSearch::propose(const std::vector<int>& wider,
                                              const std::vector<double>& headings_rad) const {
  if (view_.picture.empty()) return {};
  if (std::holds_alternative<DiscBlank>(blank_.shape))
    return distinct(proposed_discs(view_, edges_, {blank_, wider}, threads_), blank_);
  return distinct(proposed_bars(view_, edges_, {blank_, wider}, headings_rad, threads_), blank_);
}

std::vector<ProposedPlace> BedSearch::declared() const { return propose({0}, {}); }

std::vector<ProposedPlace> BedSearch::of_girth(double more_mm) const {
  return propose({whole_cells(0.5 * more_mm, view_.mm_per_cell)}, {});
}

std::vector<ProposedPlace> BedSearch::other_sizes(const std::vector<double>& headings_rad) const {
  return propose(other_girths(whole_cells(largest_girth_mm(blank_.shape), view_.mm_per_cell)), headings_rad);
}

}  // namespace jigtrue
