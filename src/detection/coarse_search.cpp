#include "jigtrue/detection/coarse_search.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "detection/disc_search.hpp"
#include "detection/distinct_candidates.hpp"
#include "detection/edge_field.hpp"
#include "detection/place_ends.hpp"

namespace jigtrue {
namespace {

constexpr std::size_t kEndsLookedFor = 16;  // candidates by their sides: a wall's may look better than the blank's

struct SideSearch {
  const std::vector<OutlineSample>& samples;
  const EdgeField& field;
  TrialValues outward_mm;  // that either side may have moved by
  BlankPlace expected;
  double out_by_girth =
      0.0;  // mm that a side moves outward for one of girth: about 0.5, less what the seat's lift adds
  double most_across_mm = 0.0;
  double most_girth_mm = 0.0;      // either way
  double declared_girth_mm = 0.0;  // up to which a girth counts as the declared one, either way
};

// Pairs of a left and a right side, both turned by this, that each stand out among their neighbours.
void add_pairs_of_sides(const SideSearch& search, double turn_rad, CoarseFinding& finding) {
  const TrialValues& out = search.outward_mm;
  const auto support = [&](OutlinePart side) {
    return support_along(search.field, search.samples, side, kAcross, out, kTurn, turn_rad);
  };
  const std::vector<double> left = support(OutlinePart::left);
  const std::vector<double> right = support(OutlinePart::right);
  // the left side has moved outward by value(i), the right one inward by value(j)
  for (int i = 0; i < out.n; ++i) {
    if (!is_peak(left, i)) continue;
    for (int j = 0; j < out.n; ++j) {
      if (!is_peak(right, j)) continue;
      const double across_mm = 0.5 * (out.value(i) + out.value(j));
      const double girth_mm = (out.value(i) - out.value(j)) / (2.0 * search.out_by_girth);
      if (std::abs(across_mm) > search.most_across_mm || std::abs(girth_mm) > search.most_girth_mm) continue;
      Candidate candidate;
      candidate.place = search.expected;
      candidate.place.centre_mm += across_mm * search.expected.across();
      candidate.place.heading_rad += turn_rad;
      candidate.place.girth_mm = girth_mm;
      candidate.left = left[static_cast<std::size_t>(i)];
      candidate.right = right[static_cast<std::size_t>(j)];
      const bool declared = std::abs(girth_mm) <= search.declared_girth_mm;
      (declared ? finding.candidates : finding.other_sizes).push_back(candidate);
    }
  }
}

}  // namespace

double Candidate::sides() const { return std::sqrt(left * right); }
double Candidate::ends() const { return std::sqrt(start * end); }

CoarseFinding search_slot(const SearchPicture& picture, const Camera& camera, const Blank& blank, const Seat& seat,
                          const BlankPlace& expected, const SearchRange& range) {
  if (std::holds_alternative<DiscBlank>(blank.shape)) return search_disc(picture, camera, blank, seat, expected, range);
  CoarseFinding finding;
  OutlineOptions options;
  options.spacing_px = 3.0 * picture.shrink;
  options.extent = OutlineExtent::sides;
  const auto samples = picture.in_picture(outline_samples(camera, blank, seat, expected, options));
  const double left_px = mean_abs(samples, OutlinePart::left, kAcross);
  const double right_px = mean_abs(samples, OutlinePart::right, kAcross);
  const double px_per_mm = std::max(left_px, right_px);
  if (samples.size() < 20 || !(std::min(left_px, right_px) > 0.0)) return finding;
  finding.in_picture = true;

  const double girth = largest_girth_mm(blank.shape);
  const double half_length = length_mm(blank.shape) / 2.0;
  const double turn_reach = rad_from_deg(range.turn_deg);
  // a blank of another girth moves either side by half the difference
  const double side_reach_mm = range.across_mm + 0.5 * range.girth_share * girth;
  const EdgeField field =
      edge_field(picture.photo, samples, (side_reach_mm + half_length * turn_reach) * px_per_mm + 2.0);
  const TrialValues line = trial_values(side_reach_mm, 0.75 / px_per_mm);
  const TrialValues turns = trial_values(turn_reach, 1.2 / (px_per_mm * half_length));
  const double girth_per_side = mean_abs(samples, OutlinePart::left, kGirth) / left_px;
  // not a whole number of the lattice's steps, so that rounding does not decide
  const double girth_tolerance = std::max(3.0 * blank.diameter_tolerance_mm, 2.1 * line.step / girth_per_side);

  const SideSearch search{
      samples, field, line, expected, girth_per_side, range.across_mm, range.girth_share * girth, girth_tolerance};
  for (int t = 0; t < turns.n; ++t) add_pairs_of_sides(search, turns.value(t), finding);
  finding.candidates =
      distinct_candidates(std::move(finding.candidates), kEndsLookedFor, {3.0 * line.step, 3.0 * turns.step});
  finding.other_sizes = distinct_candidates(std::move(finding.other_sizes), kOthersKept, {4.0 * line.step, 1.0});
  for (auto* list : {&finding.candidates, &finding.other_sizes})
    for (Candidate& candidate : *list) candidate = with_ends(picture, camera, blank, seat, range, std::move(candidate));
  std::stable_sort(finding.candidates.begin(), finding.candidates.end(),
                   [](const Candidate& a, const Candidate& b) { return a.whole_outline() > b.whole_outline(); });
  if (finding.candidates.size() > kDeclaredKept) finding.candidates.resize(kDeclaredKept);
  return finding;
}

}  // namespace jigtrue
