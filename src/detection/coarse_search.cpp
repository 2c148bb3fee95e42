#include "jigtrue/detection/coarse_search.hpp"

#include "jigtrue/detection/strip.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace jigtrue {
namespace {

constexpr double kEdgeSigmaPx = 1.2;        // scale of the derivative: about the blur of a sharp photo
constexpr std::size_t kDeclaredTried = 16;  // candidates whose ends are looked for
constexpr std::size_t kDeclaredKept = 8;    // of these may be looked at closely
constexpr std::size_t kOthersKept = 8;

// Unit-bounded edge vectors (three channels) along each sample's normal. A strong edge has length near 1, noise far
// less.
struct EdgeField {
  Strip strip;                 // geometry only
  std::vector<float> vectors;  // (row * columns + column) * 3

  [[nodiscard]] const float* at(int row, int column) const {
    return vectors.data() + (static_cast<std::ptrdiff_t>(row) * strip.columns + column) * kChannels;
  }
};

std::vector<float> derivative_kernel(double step_px) {
  const int half = static_cast<int>(std::ceil(3.0 * kEdgeSigmaPx / step_px));
  std::vector<float> kernel;
  double norm = 0.0;
  for (int k = -half; k <= half; ++k) {
    const double x = k * step_px;
    const double value = x * std::exp(-0.5 * x * x / (kEdgeSigmaPx * kEdgeSigmaPx));
    kernel.push_back(static_cast<float>(value));
    norm += value * x;
  }
  for (float& value : kernel) value = static_cast<float>(static_cast<double>(value) / norm);
  return kernel;
}

EdgeField edge_field(const Photo& photo, const std::vector<OutlineSample>& samples, double reach_px) {
  constexpr double kStepPx = 1.0;  // of the profiles: a coarse search needs none finer
  const std::vector<float> kernel = derivative_kernel(kStepPx);
  const int half = static_cast<int>(kernel.size() / 2);
  const double margin = half * kStepPx;
  const double reach = std::ceil(reach_px);
  const Strip wide = sample_strip(photo, samples, -reach - margin, reach + margin, kStepPx);
  EdgeField field;
  field.strip.first_px = -reach;
  field.strip.step_px = kStepPx;
  field.strip.rows = wide.rows;
  field.strip.columns = wide.columns - 2 * half;
  field.vectors.resize(static_cast<std::size_t>(field.strip.rows) * static_cast<std::size_t>(field.strip.columns) *
                       kChannels);
  std::vector<float> strengths;
  strengths.reserve(field.vectors.size() / kChannels);
  const Eigen::Index columns = field.strip.columns;
  for (int i = 0; i < field.strip.rows; ++i) {
    Eigen::Array<float, kChannels, Eigen::Dynamic> vectors(kChannels, columns);
    for (int c = 0; c < kChannels; ++c) {
      const Eigen::Map<const Eigen::ArrayXf> row(wide.row(c, i), wide.columns);
      Eigen::ArrayXf sum = kernel[0] * row.head(columns);
      for (std::size_t k = 1; k < kernel.size(); ++k)
        sum += kernel[k] * row.segment(static_cast<Eigen::Index>(k), columns);
      vectors.row(c) = sum.transpose();
    }
    std::copy_n(vectors.data(), vectors.size(), field.vectors.data() + i * vectors.size());
    for (Eigen::Index j = 0; j < columns; ++j) strengths.push_back(vectors.col(j).matrix().norm());
  }
  if (strengths.empty()) return field;
  // Saturates well above the ordinary texture of this very slot, never below the noise of an 8-bit picture.
  auto middle = strengths.begin() + static_cast<std::ptrdiff_t>(strengths.size() * 7 / 10);
  std::nth_element(strengths.begin(), middle, strengths.end());
  const float floor = std::max(2.0F * *middle, 1.0F);
  for (std::size_t k = 0; k + 2 < field.vectors.size(); k += kChannels) {
    float* v = field.vectors.data() + k;
    const float length = std::sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2] + floor * floor);
    for (int c = 0; c < kChannels; ++c) v[c] /= length;
  }
  return field;
}

struct Line {
  int n = 0;
  double step_mm = 0.0;
  [[nodiscard]] double value(int i) const {
    const int middle = n / 2;
    return (i - middle) * step_mm;
  }
};

Line make_line(double reach, double step) {
  const int half = std::max(1, static_cast<int>(std::ceil(reach / step)));
  return {2 * half + 1, reach / half};
}

// Support of one part for every value of one parameter, the others' motion given per sample.
std::vector<double> support_along(const EdgeField& field, const std::vector<OutlineSample>& samples, OutlinePart part,
                                  int parameter, const Line& line, int other, double other_value) {
  std::vector<double> sums(static_cast<std::size_t>(line.n) * kChannels, 0.0);
  int count = 0;
  for (int i = 0; i < field.strip.rows; ++i) {
    const OutlineSample& sample = samples[static_cast<std::size_t>(i)];
    if (sample.part != part) continue;
    ++count;
    const double fixed = sample.by_place[other] * other_value - field.strip.first_px;
    for (int k = 0; k < line.n; ++k) {
      const auto column = static_cast<int>(
          std::floor((sample.by_place[parameter] * line.value(k) + fixed) / field.strip.step_px + 0.5));
      if (column < 0 || column >= field.strip.columns) continue;
      const float* vector = field.at(i, column);
      double* sum = sums.data() + static_cast<std::ptrdiff_t>(k) * kChannels;
      for (int c = 0; c < kChannels; ++c) sum[c] += static_cast<double>(vector[c]);
    }
  }
  std::vector<double> support(static_cast<std::size_t>(line.n), 0.0);
  if (count == 0) return support;
  for (std::size_t k = 0; k < support.size(); ++k)
    support[k] =
        std::sqrt(sums[3 * k] * sums[3 * k] + sums[3 * k + 1] * sums[3 * k + 1] + sums[3 * k + 2] * sums[3 * k + 2]) /
        count;
  return support;
}

double mean_abs(const std::vector<OutlineSample>& samples, OutlinePart part, int parameter) {
  double sum = 0.0;
  int n = 0;
  for (const OutlineSample& sample : samples) {
    if (sample.part != part) continue;
    sum += std::abs(sample.by_place[parameter]);
    ++n;
  }
  return n > 0 ? sum / n : 0.0;
}

bool is_peak(const std::vector<double>& support, int k) {
  const auto u = static_cast<std::size_t>(k);
  return (u == 0 || support[u] >= support[u - 1]) && (u + 1 == support.size() || support[u] >= support[u + 1]);
}

// Whether a candidate differs from all others by more than a pixel or so somewhere.
bool is_distinct(const Candidate& candidate, const std::vector<Candidate>& others, double across_mm, double turn_rad) {
  return std::none_of(others.begin(), others.end(), [&](const Candidate& other) {
    return (candidate.place.centre_mm - other.place.centre_mm).norm() < across_mm &&
           std::abs(candidate.place.heading_rad - other.place.heading_rad) < turn_rad &&
           std::abs(candidate.place.girth_mm - other.place.girth_mm) < 2.0 * across_mm;
  });
}

void keep_distinct(std::vector<Candidate>& candidates, std::size_t count, double across_mm, double turn_rad) {
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Candidate& a, const Candidate& b) { return a.sides() > b.sides(); });
  std::vector<Candidate> kept;
  for (const Candidate& candidate : candidates) {
    if (kept.size() == count) break;
    if (is_distinct(candidate, kept, across_mm, turn_rad)) kept.push_back(candidate);
  }
  candidates = std::move(kept);
}

struct SlotAxes {
  Vector2d along;
  Vector2d across;
};
SlotAxes axes_of(const BlankPlace& place) {
  return {{std::cos(place.heading_rad), std::sin(place.heading_rad)},
          {-std::sin(place.heading_rad), std::cos(place.heading_rad)}};
}

constexpr double kLikeEnds = 0.6;  // of the best pair's score, for another pair to be kept
constexpr std::size_t kLikeEndsKept = 2;
constexpr double kAnotherPair_mm = 0.5;

// The best pairs but the chosen one, distinct from it and from each other.
std::vector<Candidate::OtherEnds> distinct_pairs(std::vector<std::pair<double, Candidate::OtherEnds>> pairs,
                                                 const Candidate::OtherEnds& chosen) {
  std::stable_sort(pairs.begin(), pairs.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  std::vector<Candidate::OtherEnds> kept;
  const auto near = [](const Candidate::OtherEnds& a, const Candidate::OtherEnds& b) {
    return std::abs(a.along_mm - b.along_mm) + 0.5 * std::abs(a.length_mm - b.length_mm) < kAnotherPair_mm;
  };
  for (const auto& scored : pairs) {
    const Candidate::OtherEnds& pair = scored.second;
    if (kept.size() == kLikeEndsKept) break;
    if (near(pair, chosen) ||
        std::any_of(kept.begin(), kept.end(), [&](const auto& other) { return near(pair, other); }))
      continue;
    kept.push_back(pair);
  }
  return kept;
}

// Both ends for a candidate whose sides are known: the pair of edges whose distance fits the declared length best.
void place_ends(const SearchPicture& picture, const Camera& camera, const Blank& blank, const Seat& seat,
                const SearchRange& range, Candidate& candidate) {
  OutlineOptions options;
  options.spacing_px = 1.5 * picture.shrink;
  options.extent = OutlineExtent::ends;
  const auto samples = picture.in_picture(outline_samples(camera, blank, seat, candidate.place, options));
  const double px_per_mm =
      std::max(mean_abs(samples, OutlinePart::start, kAlong), mean_abs(samples, OutlinePart::end, kAlong));
  if (samples.size() < 6 || !(px_per_mm > 0.0)) return;
  const EdgeField field = edge_field(picture.photo, samples, range.along_mm * px_per_mm + 2.0);
  const Line line = make_line(range.along_mm, 0.7 / px_per_mm);
  const auto start = support_along(field, samples, OutlinePart::start, kAlong, line, kAcross, 0.0);
  const auto end = support_along(field, samples, OutlinePart::end, kAlong, line, kAcross, 0.0);
  constexpr double kAsWell = 0.9;  // of the best length's support: then the declared one is as likely
  const double declared_mm = blank.length_tolerance_mm + 0.6;
  double best = -1.0;
  double along = 0.0;
  double length = 0.0;
  Candidate::OtherEnds other;
  std::vector<std::pair<double, Candidate::OtherEnds>> peaks;
  for (int i = 0; i < line.n; ++i) {
    for (int j = 0; j < line.n; ++j) {
      const double stretch = line.value(j) - line.value(i);
      const double excess = std::abs(stretch) / declared_mm;
      if (excess > 2.0 &&
          start[static_cast<std::size_t>(i)] * end[static_cast<std::size_t>(j)] > other.start * other.end)
        other = {0.5 * (line.value(i) + line.value(j)), stretch, start[static_cast<std::size_t>(i)],
                 end[static_cast<std::size_t>(j)]};
      const double score =
          std::sqrt(start[static_cast<std::size_t>(i)] * end[static_cast<std::size_t>(j)]) / (1.0 + excess * excess);
      if (excess <= 1.0 && is_peak(start, i) && is_peak(end, j))
        peaks.push_back({score,
                         {0.5 * (line.value(i) + line.value(j)), stretch, start[static_cast<std::size_t>(i)],
                          end[static_cast<std::size_t>(j)]}});
      if (score > best) {
        best = score;
        along = 0.5 * (line.value(i) + line.value(j));
        length = stretch;
        candidate.start = start[static_cast<std::size_t>(i)];
        candidate.end = end[static_cast<std::size_t>(j)];
      }
    }
  }
  std::erase_if(peaks, [&](const auto& pair) { return pair.first < kLikeEnds * best; });
  candidate.like_ends = distinct_pairs(std::move(peaks), {along, length, 0.0, 0.0});
  for (Candidate::OtherEnds& pair : candidate.like_ends) pair.along_mm -= along;
  other.along_mm -= along;
  if (std::sqrt(other.start * other.end) > kAsWell * candidate.ends()) candidate.other_ends = other;
  candidate.place.centre_mm += along * axes_of(candidate.place).along;
  candidate.place.length_mm = length;
}

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

void search_cell(RimSearch& rim, const Line& girths, const Line& line, const RimCell& cell,
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
std::vector<RimPlace> rim_places(RimSearch& rim, const Line& girths, const Line& line) {
  constexpr double kInTheMiddle = 0.6;  // of its support at least: half a step off along each of the three
  const auto middle = [](const Line& values, int first) { return values.value(first) + 0.5 * values.step_mm; };
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

// Discs and other shapes that turning does not change: across and along together.
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
  const Line line = make_line(reach_mm, 1.0 / px_per_mm);
  const Line girths = make_line(girth_reach, 1.5 / px_per_mm);
  RimSearch rim(field, samples, 0.5 * diameter);
  std::vector<RimPlace> places = rim_places(rim, girths, line);
  std::stable_sort(places.begin(), places.end(),
                   [](const RimPlace& a, const RimPlace& b) { return a.support > b.support; });
  const SlotAxes axes = axes_of(expected);
  const double apart_mm = 2.0 / px_per_mm;
  const double declared_mm = std::max(2.1 * girths.step_mm, 3.0 * blank.diameter_tolerance_mm);
  for (const RimPlace& at : places) {
    Candidate candidate;
    candidate.place = expected;
    candidate.place.centre_mm += line.value(at.across) * axes.across + line.value(at.along) * axes.along;
    candidate.place.girth_mm = girths.value(at.girth);
    candidate.left = candidate.right = candidate.start = candidate.end = at.support;
    const bool declared = std::abs(candidate.place.girth_mm) <= declared_mm;
    auto& kept = declared ? finding.candidates : finding.other_sizes;
    if (kept.size() < (declared ? kDeclaredKept : kOthersKept) && is_distinct(candidate, kept, apart_mm, 1.0))
      kept.push_back(candidate);
  }
  return finding;
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
  const Line line = make_line(side_reach_mm, 0.75 / px_per_mm);
  const Line turns = make_line(turn_reach, 1.2 / (px_per_mm * half_length));
  const double girth_per_side =
      mean_abs(samples, OutlinePart::left, kGirth) / left_px;  // about 0.5, less what the seat's lift adds
  // not a whole number of the lattice's steps, so that rounding does not decide
  const double girth_tolerance = std::max(3.0 * blank.diameter_tolerance_mm, 2.1 * line.step_mm / girth_per_side);
  const SlotAxes axes = axes_of(expected);

  for (int t = 0; t < turns.n; ++t) {
    const auto left = support_along(field, samples, OutlinePart::left, kAcross, line, kTurn, turns.value(t));
    const auto right = support_along(field, samples, OutlinePart::right, kAcross, line, kTurn, turns.value(t));
    // the left side has moved outward by value(i), the right one inward by value(j)
    for (int i = 0; i < line.n; ++i) {
      for (int j = 0; j < line.n; ++j) {
        const double across = 0.5 * (line.value(i) + line.value(j));
        const double extra = (line.value(i) - line.value(j)) / (2.0 * girth_per_side);
        if (std::abs(across) > range.across_mm || std::abs(extra) > range.girth_share * girth) continue;
        const double l = left[static_cast<std::size_t>(i)];
        const double r = right[static_cast<std::size_t>(j)];
        const bool declared = std::abs(extra) <= girth_tolerance;
        auto& list = declared ? finding.candidates : finding.other_sizes;
        // only local maxima of both sides are worth keeping
        if (!is_peak(left, i) || !is_peak(right, j)) continue;
        Candidate candidate;
        candidate.place = expected;
        candidate.place.centre_mm += across * axes.across;
        candidate.place.heading_rad += turns.value(t);
        candidate.place.girth_mm = extra;
        candidate.left = l;
        candidate.right = r;
        list.push_back(candidate);
      }
    }
  }
  keep_distinct(finding.candidates, kDeclaredTried, 3.0 * line.step_mm, 3.0 * turns.step_mm);
  keep_distinct(finding.other_sizes, kOthersKept, 4.0 * line.step_mm, 1.0);
  for (auto* list : {&finding.candidates, &finding.other_sizes})
    for (Candidate& candidate : *list) place_ends(picture, camera, blank, seat, range, candidate);
  std::stable_sort(finding.candidates.begin(), finding.candidates.end(),
                   [](const Candidate& a, const Candidate& b) { return a.whole_outline() > b.whole_outline(); });
  if (finding.candidates.size() > kDeclaredKept) finding.candidates.resize(kDeclaredKept);
  return finding;
}

}  // namespace jigtrue
