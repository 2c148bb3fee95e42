#include "detection/disc_search.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "detection/distinct_candidates.hpp"
#include "detection/edge_field.hpp"

namespace jigtrue {
namespace {

// The rim of a disc, moved and widened, as the field shows it; samples of one quadrant after those of another. Along a
// normal of the rim where it was expected, one that has moved by t along the tangent lies R - sqrt(R^2 - t^2) further
// in.
class RimSearch {
 public:
  RimSearch(const EdgeField& field, const std::vector<OutlineSample>& samples, double radius_mm)
      : field_(field), samples_(samples), radius_mm_(radius_mm), normals_(samples.size()) {
    for (std::size_t first = 0, end = 0; first < samples.size(); first = end) {
      while (end < samples.size() && samples[end].part == samples[first].part) ++end;
      quadrants_.push_back({first, end, 1.0 / static_cast<double>(kOutlineParts * (end - first))});
    }
  }
  void move_to(double girth_mm, double across_mm) {
    const double widened_mm = radius_mm_ + 0.5 * girth_mm;
    for (std::size_t k = 0; k < normals_.size(); ++k) {
      const auto& by_place = samples_[k].by_place;
      Normal& normal = normals_[k];
      normal.radius_px = widened_mm * samples_[k].px_per_mm;
      const double outward_px = by_place[kGirth] * girth_mm + by_place[kAcross] * across_mm - normal.radius_px;
      normal.outward_px = outward_px - field_.strip.first_px + 0.5 * field_.strip.step_px;
      normal.tangent_px = by_place[kAlong] * across_mm;
      normal.outward_by_along = by_place[kAlong];
      normal.tangent_by_along = -by_place[kAcross];
    }
  }
  // Of its four quadrants together: a disc has no sides apart from its ends.
  [[nodiscard]] double support(double along_mm) const {
    const double per_step = 1.0 / field_.strip.step_px;
    double support = 0.0;
    for (const Quadrant& quadrant : quadrants_) {
      Eigen::Array3f sum = Eigen::Array3f::Zero();
      for (std::size_t k = quadrant.first; k < quadrant.end; ++k) {
        const Normal& normal = normals_[k];
        const double tangent_px = normal.tangent_px + normal.tangent_by_along * along_mm;
        const double square = normal.radius_px * normal.radius_px - tangent_px * tangent_px;
        if (square <= 0.0) continue;  // the normal misses the rim
        const double outward_px = normal.outward_px + normal.outward_by_along * along_mm + std::sqrt(square);
        const auto column = static_cast<int>(outward_px * per_step);
        if (column < 0 || column >= field_.strip.columns) continue;
        sum += Eigen::Map<const Eigen::Array3f>(field_.at(static_cast<int>(k), column));
      }
      support += quadrant.share * static_cast<double>(sum.matrix().norm());
    }
    return support;
  }

 private:
  const EdgeField& field_;
  const std::vector<OutlineSample>& samples_;
  double radius_mm_;
  struct Quadrant {
    std::size_t first;
    std::size_t end;
    double share;  // of the support, per sample
  };
  std::vector<Quadrant> quadrants_;
  // One sample's normal, the rim moved across and widened but not yet along.
  struct Normal {
    double radius_px;
    double outward_px;  // of the rim, less its radius; from where the field's first column begins
    double tangent_px;
    double outward_by_along;
    double tangent_by_along;
  };
  std::vector<Normal> normals_;
};

// A place of the lattice that discs are looked for on, and its support.
struct RimPlace {
  double support = 0.0;
  int girth = 0;
  int across = 0;
  int along = 0;
};

// Two of the lattice's steps along each of the three: the first of each, and of those along, as many as are worth it.
struct RimCell {
  int girth = 0;
  int across = 0;
  std::vector<int> along;
};

void search_cell(RimSearch& rim, const TrialValues& girths, const TrialValues& line, const RimCell& cell,
                 std::vector<RimPlace>& places) {
  for (int girth = cell.girth; girth < std::min(cell.girth + 2, girths.n); ++girth) {
    for (int across = cell.across; across < std::min(cell.across + 2, line.n); ++across) {
      rim.move_to(girths.value(girth), line.value(across));
      for (const int first : cell.along) {
        for (int along = first; along < std::min(first + 2, line.n); ++along) {
          const double support = rim.support(line.value(along));
          if (support >= kLookedAtSupport) places.push_back({support, girth, across, along});
        }
      }
    }
  }
}

// All places worth keeping. Where a rim stands, the middle of the cell shows it, too: only such cells are searched.
std::vector<RimPlace> rim_places(RimSearch& rim, const TrialValues& girths, const TrialValues& line) {
  constexpr double kInTheMiddle = 0.6;  // of its support at least: half a step off along each of the three
  const auto middle = [](const TrialValues& values, int first) { return values.value(first) + 0.5 * values.step; };
  std::vector<RimPlace> places;
  RimCell cell;
  for (cell.girth = 0; cell.girth < girths.n; cell.girth += 2) {
    for (cell.across = 0; cell.across < line.n; cell.across += 2) {
      rim.move_to(middle(girths, cell.girth), middle(line, cell.across));
      cell.along.clear();
      for (int along = 0; along < line.n; along += 2)
        if (rim.support(middle(line, along)) >= kInTheMiddle * kLookedAtSupport) cell.along.push_back(along);
      if (!cell.along.empty()) search_cell(rim, girths, line, cell, places);
    }
  }
  return places;
}

}  // namespace

CoarseFinding search_disc(const SearchPicture& picture, const Camera& camera, const Blank& blank, const Seat& seat,
                          const BlankPlace& expected, const SearchRange& range) {
  OutlineOptions options;
  options.spacing_px = 4.0 * picture.shrink;
  auto samples = picture.in_picture(outline_samples(camera, blank, seat, expected, options));
  CoarseFinding finding;
  if (samples.size() < 16) return finding;
  std::stable_sort(samples.begin(), samples.end(),
                   [](const OutlineSample& a, const OutlineSample& b) { return a.part < b.part; });
  finding.in_picture = true;
  double px_per_mm = 0.0;
  for (const OutlineSample& sample : samples) px_per_mm = std::max(px_per_mm, sample.px_per_mm);
  const double diameter = largest_diameter_mm(blank.shape).value_or(0.0);
  const double girth_reach = std::min(range.girth_share * diameter, range.girth_mm);
  const double reach_mm = std::max(range.across_mm, range.along_mm);
  const EdgeField field = edge_field(picture.photo, samples, (reach_mm * 1.42 + 0.5 * girth_reach) * px_per_mm + 2.0);
  const TrialValues line = trial_values(reach_mm, 1.0 / px_per_mm);
  const TrialValues girths = trial_values(girth_reach, 1.5 / px_per_mm);
  RimSearch rim(field, samples, 0.5 * diameter);
  std::vector<RimPlace> places = rim_places(rim, girths, line);
  std::stable_sort(places.begin(), places.end(),
                   [](const RimPlace& a, const RimPlace& b) { return a.support > b.support; });
  const Apart apart{2.0 / px_per_mm, 1.0};
  const double declared_mm = std::max(2.1 * girths.step, 3.0 * blank.diameter_tolerance_mm);
  for (const RimPlace& at : places) {
    Candidate candidate;
    candidate.place = expected;
    candidate.place.centre_mm += line.value(at.across) * expected.across() + line.value(at.along) * expected.along();
    candidate.place.girth_mm = girths.value(at.girth);
    candidate.left = candidate.right = candidate.start = candidate.end = at.support;
    const bool declared = std::abs(candidate.place.girth_mm) <= declared_mm;
    auto& kept = declared ? finding.candidates : finding.other_sizes;
    if (kept.size() < (declared ? kDeclaredKept : kOthersKept) && is_distinct(candidate, kept, apart))
      kept.push_back(candidate);
  }
  return finding;
}

}  // namespace jigtrue
