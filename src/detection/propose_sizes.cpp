#include "jigtrue/detection/propose_sizes.hpp"

#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/detection/coarse_search.hpp"
#include "jigtrue/detection/propose_places.hpp"
#include "jigtrue/detection/strip.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <cstddef>
#include <utility>
#include <variant>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kSlimmest_mm = 4.0;    // refills, dowels: slimmer ones have no room for a design
constexpr double kWidest_mm = 40.0;     // of a round blank
constexpr double kLargest_mm = 130.0;   // a coaster's girth
constexpr double kShortest_mm = 15.0;   // a blank's length: a shorter one takes no lettering
constexpr double kLongest_mm = 330.0;   // a ruler of a foot, with its ends
constexpr std::size_t kMostSizes = 12;  // handed on; the two most evident of them are judged closely
constexpr double kAsPlain = 0.5;        // of the plainest outline's support: what is fainter does not speak for a size

// An outline somewhere, of some size.
struct SizedPlace {
  BlankPlace place;  // girth and length are the whole ones
  double support = 0.0;
};

bool overlap(const SizedPlace& a, const SizedPlace& b) {
  const Vector2d away = b.place.centre_mm - a.place.centre_mm;
  return std::abs(away.dot(a.place.across())) < 0.8 * a.place.girth_mm &&
         std::abs(away.dot(a.place.along())) < 0.8 * a.place.length_mm;
}

struct SizeStep {
  double girth_mm = 0.0;  // within which two outlines count as of one size
  double length_mm = 0.0;
  [[nodiscard]] bool alike(const SizedPlace& a, const SizedPlace& b) const {
    return std::abs(a.place.girth_mm - b.place.girth_mm) <= girth_mm &&
           std::abs(a.place.length_mm - b.place.length_mm) <= length_mm;
  }
};

// `places`: most support first.
std::vector<ProposedSize> most_supported(const std::vector<SizedPlace>& places, const SizeStep& step) {
  struct Size {
    ProposedSize size;
    const SizedPlace* seed = nullptr;
    std::vector<const SizedPlace*> members;
  };
  constexpr std::size_t kMostSeeds = 150;  // plainest outlines about which sizes gather
  std::vector<Size> sizes;
  for (const SizedPlace& seed : places) {
    if (sizes.size() == kMostSeeds || seed.support < kAsPlain * places.front().support) break;
    Size here{{}, &seed, {}};
    for (const SizedPlace& other : places) {
      if (other.support < kAsPlain * places.front().support) break;
      if (!step.alike(seed, other) ||
          std::any_of(here.members.begin(), here.members.end(),
                      [&](const SizedPlace* known) { return overlap(*known, other) || overlap(other, *known); }))
        continue;
      here.members.push_back(&other);
      const double weight = other.support * other.support;
      here.size.support += weight;
      here.size.girth_mm += weight * other.place.girth_mm;
      here.size.length_mm += weight * other.place.length_mm;
    }
    here.size.girth_mm /= here.size.support;
    here.size.length_mm /= here.size.support;
    sizes.push_back(std::move(here));
  }
  std::stable_sort(sizes.begin(), sizes.end(),
                   [](const Size& a, const Size& b) { return a.size.support > b.size.support; });
  std::vector<Size> kept;
  for (const Size& size : sizes) {
    if (kept.size() == kMostSizes) break;
    if (std::none_of(kept.begin(), kept.end(), [&](const Size& other) { return step.alike(*size.seed, *other.seed); }))
      kept.push_back(size);
  }
  std::vector<ProposedSize> proposed;
  proposed.reserve(kept.size());
  for (const Size& size : kept) {
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

// Straight sides and ends --------------------------------------------------------------------------------------------

struct CellRange {
  int low = 0;
  int high = 0;
};

// Edges across rows and along them, summed so that those of any stretch, and of any end, are a difference.
struct SummedEdges {
  cv::Mat3f along_rows;                           // of edges that run along the rows, up to and without this column
  std::array<cv::Mat1f, kChannels> down_columns;  // of edges that run down the columns, up to and without this row
  std::vector<std::vector<CellRange>> beside;     // of each row: columns about which a side may run along it
  cv::Matx23d turn;                               // cell of the view, of a cell here
  [[nodiscard]] int rows() const { return along_rows.rows; }
  [[nodiscard]] int columns() const { return along_rows.cols - 1; }
};

constexpr float kLeastSide = 0.3F;  // support of a side, of 1: fainter ones are grain

float length_of(const cv::Vec3f& v) { return std::sqrt(v.dot(v)); }

// Where a stretch of the row as long as the shortest blank's side shows an edge, and as far beyond as a side may lose
// its own before it ends.
std::vector<CellRange> ranges_beside(const cv::Vec3f* sums, int columns, int stretch) {
  constexpr int kFaded = 20;  // cells without support that end a side
  constexpr int kApart = 5;   // so that no end lies in two of them
  std::vector<CellRange> ranges;
  const float least = kLeastSide * static_cast<float>(stretch);
  for (int x = 0; x + stretch <= columns; ++x) {
    const cv::Vec3f sum = sums[x + stretch] - sums[x];
    if (sum.dot(sum) < least * least) continue;
    const CellRange here{std::max(x - kFaded, 0), std::min(x + stretch + kFaded, columns)};
    if (ranges.empty() || here.low > ranges.back().high + kApart)
      ranges.push_back(here);
    else
      ranges.back().high = here.high;
  }
  return ranges;
}

std::vector<CellRange> in_both(const std::vector<CellRange>& a, const std::vector<CellRange>& b) {
  std::vector<CellRange> both;
  for (std::size_t i = 0, j = 0; i < a.size() && j < b.size();) {
    const CellRange here{std::max(a[i].low, b[j].low), std::min(a[i].high, b[j].high)};
    if (here.low < here.high) both.push_back(here);
    (a[i].high < b[j].high ? i : j) += 1;
  }
  return both;
}

SummedEdges summed_edges(const EdgePicture& edges, double heading_rad, int shortest) {
  SummedEdges summed;
  const double c = std::cos(heading_rad);
  const double s = std::sin(heading_rad);
  const cv::Size size = edges.along_x.size();
  const int columns = static_cast<int>(std::ceil(std::abs(size.width * c) + std::abs(size.height * s))) + 1;
  const int rows = static_cast<int>(std::ceil(std::abs(size.width * s) + std::abs(size.height * c))) + 1;
  summed.turn = cv::Matx23d(c, -s, 0.5 * (size.width - c * columns + s * rows), s, c,
                            0.5 * (size.height - s * columns - c * rows));
  const auto turned = [&](double by_x, double by_y) {
    cv::Mat3f slope;
    cv::addWeighted(edges.along_x, by_x, edges.along_y, by_y, 0.0, slope);
    cv::Mat3f result;
    cv::warpAffine(slope, result, summed.turn, {columns, rows}, cv::INTER_NEAREST | cv::WARP_INVERSE_MAP);
    return result;
  };
  const cv::Mat3f of_sides = turned(-s, c);
  const cv::Mat3f of_ends = turned(c, s);
  summed.along_rows = cv::Mat3f(rows, columns + 1);
  for (cv::Mat1f& sums : summed.down_columns) sums = cv::Mat1f::zeros(rows + 1, columns);
  summed.beside.resize(static_cast<std::size_t>(rows));
  for (int y = 0; y < rows; ++y) {
    cv::Vec3f sum(0.0F, 0.0F, 0.0F);
    for (int x = 0; x < columns; ++x) {
      summed.along_rows(y, x) = sum;
      sum += of_sides(y, x);
      for (int ch = 0; ch < kChannels; ++ch) {
        cv::Mat1f& sums = summed.down_columns[static_cast<std::size_t>(ch)];
        sums(y + 1, x) = sums(y, x) + of_ends(y, x)[ch];
      }
    }
    summed.along_rows(y, columns) = sum;
    summed.beside[static_cast<std::size_t>(y)] = ranges_beside(summed.along_rows.ptr<cv::Vec3f>(y), columns, shortest);
  }
  return summed;
}

// An end of a blank whose sides run along two rows.
struct EndAt {
  int column = 0;
  float support = 0.0F;
};

// Adds those between two columns.
void ends_between(const SummedEdges& edges, int low, int high, const CellRange& columns, std::vector<float>& support,
                  std::vector<EndAt>& ends) {
  constexpr float kLeast = 0.3F;  // support, of 1
  constexpr int kNear = 2;        // cells: an end's edge is that wide
  const int first = std::max(columns.low - kNear, 0);
  const int last = std::min(columns.high + kNear, edges.columns());
  const auto between = [&](std::size_t ch) {
    using Row = Eigen::Map<const Eigen::ArrayXf>;
    const cv::Mat1f& sums = edges.down_columns[ch];
    return Row(sums.ptr<float>(high + 1) + first, last - first) - Row(sums.ptr<float>(low) + first, last - first);
  };
  Eigen::Map<Eigen::ArrayXf>(support.data() + first, last - first) =
      between(0).square() + between(1).square() + between(2).square();
  const float least = kLeast * static_cast<float>(high + 1 - low);
  const auto at = [&](int column) { return support[static_cast<std::size_t>(column)]; };
  for (int x = first + kNear; x < last - kNear; ++x) {
    const float here = at(x);
    if (here < least * least) continue;
    bool greatest = true;
    for (int d = 1; d <= kNear; ++d) greatest = greatest && at(x - d) < here && at(x + d) <= here;
    if (greatest) ends.push_back({x, std::sqrt(here) / static_cast<float>(high + 1 - low)});
  }
}

struct BoxSizes {
  std::vector<int> girths;  // cells
  CellRange lengths;
  int shortest = 0;    // cells, that a blank's sides have at least
  bool lying = false;  // longer than wide: a plate of which neither is declared would be seen both ways
};

// The most support of any outline so far: what is far fainter is not kept.
class Plainest {
 public:
  [[nodiscard]] double least() const { return kAsPlain * most_; }
  void see(double support) {
    for (double most = most_; support > most && !most_.compare_exchange_weak(most, support);) continue;
  }

 private:
  std::atomic<double> most_{0.0};
};

void boxes_along(const SummedEdges& edges, const BedView& view, double heading_rad, const BoxSizes& sizes,
                 Plainest& plainest, std::vector<SizedPlace>& found) {
  constexpr double kLeast = 0.25;   // support of a whole outline, of 1
  constexpr float kNearEnd = 0.2F;  // support of the sides beside an end, which a corner may round
  std::vector<float> support(static_cast<std::size_t>(edges.columns()));
  std::vector<EndAt> ends;
  std::vector<EndAt> starts;
  std::vector<EndAt> stops;
  const auto side = [&](int row, int from, int to) {
    return length_of(edges.along_rows(row, to) - edges.along_rows(row, from)) / static_cast<float>(to - from);
  };
  for (int low = 0; low < edges.rows(); ++low) {
    const std::vector<CellRange>& beside_low = edges.beside[static_cast<std::size_t>(low)];
    if (beside_low.empty()) continue;
    for (const int girth : sizes.girths) {
      const int high = low + girth;
      if (high >= edges.rows()) break;
      ends.clear();
      for (const CellRange& both : in_both(beside_low, edges.beside[static_cast<std::size_t>(high)]))
        ends_between(edges, low, high, both, support, ends);
      starts.clear();
      stops.clear();
      for (const EndAt& end : ends) {
        const auto sides_from = [&](int from, int to) {
          return from >= 0 && to <= edges.columns() && side(low, from, to) >= kNearEnd &&
                 side(high, from, to) >= kNearEnd;
        };
        if (sides_from(end.column, end.column + sizes.shortest)) starts.push_back(end);
        if (sides_from(end.column - sizes.shortest, end.column)) stops.push_back(end);
      }
      const int shortest = sizes.lying ? std::max(sizes.lengths.low, girth) : sizes.lengths.low;
      std::size_t first = 0;
      for (const EndAt& start : starts) {
        while (first < stops.size() && stops[first].column - start.column < shortest) ++first;
        for (std::size_t j = first; j < stops.size(); ++j) {
          const EndAt& stop = stops[j];
          const int length = stop.column - start.column;
          if (length > sizes.lengths.high) break;
          const float one = side(low, start.column, stop.column);
          if (one < kLeastSide) continue;
          const float other = side(high, start.column, stop.column);
          if (other < kLeastSide) continue;
          const double whole = whole_outline(std::sqrt(static_cast<double>(one * other)),
                                             std::sqrt(static_cast<double>(start.support * stop.support)));
          if (whole < kLeast || whole < plainest.least()) continue;
          plainest.see(whole);
          const cv::Vec2d at = edges.turn * cv::Vec3d(0.5 * (start.column + stop.column), 0.5 * (low + high), 1.0);
          found.push_back(
              {{view.bed_mm({at[0], at[1]}), heading_rad, girth * view.mm_per_cell, length * view.mm_per_cell}, whole});
        }
      }
    }
  }
}

// The plainest, each once: its neighbours in place, direction and size are the same edges.
std::vector<SizedPlace> distinct_boxes(std::vector<SizedPlace> all, double mm_per_cell) {
  constexpr std::size_t kMost = 600;  // outlines that are told apart: what is fainter than these is none
  const double near_mm = 2.5 * mm_per_cell;
  std::stable_sort(all.begin(), all.end(),
                   [](const SizedPlace& a, const SizedPlace& b) { return a.support > b.support; });
  std::vector<SizedPlace> kept;
  for (const SizedPlace& here : all) {
    if (kept.size() == kMost) break;
    const bool near = std::any_of(kept.begin(), kept.end(), [&](const SizedPlace& other) {
      return (here.place.centre_mm - other.place.centre_mm).norm() < near_mm &&
             std::abs(here.place.girth_mm - other.place.girth_mm) < near_mm &&
             std::abs(here.place.length_mm - other.place.length_mm) < 2.0 * near_mm &&
             std::abs(std::remainder(here.place.heading_rad - other.place.heading_rad, kPi)) < 0.1;
    });
    if (!near) kept.push_back(here);
  }
  return kept;
}

std::vector<ProposedSize> box_sizes(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                    const SizesWanted& wanted, int threads) {
  constexpr double kCell_mm = 1.0;     // sizes are only proposed here, and measured later
  constexpr double kGirthStep = 0.05;  // of the size: rims within it support the same radius
  const BedView view = bed_view(photo, camera, {outline_height_mm(blank, seat), kCell_mm, 0.0});
  if (view.picture.empty()) return {};
  const double cell = view.mm_per_cell;
  const EdgePicture edges = edges_of(view);
  const auto cells = [&](double mm) { return static_cast<int>(std::lround(mm / cell)); };
  const bool plate = std::holds_alternative<PlateBlank>(blank.shape);
  BoxSizes sizes;
  const double girth_mm = largest_girth_mm(blank.shape);
  const int widest = wanted.girth ? cells(plate ? kLargest_mm : kWidest_mm) : cells(girth_mm);
  for (int girth = wanted.girth ? cells(kSlimmest_mm) : cells(girth_mm); girth <= widest;
       girth += std::max(1, static_cast<int>(kGirthStep * girth)))
    sizes.girths.push_back(girth);
  const int length = cells(length_mm(blank.shape));
  sizes.lengths =
      wanted.length ? CellRange{cells(kShortest_mm), cells(kLongest_mm)} : CellRange{length - 3, length + 3};
  sizes.shortest = cells(kShortest_mm);
  sizes.lying = wanted.girth && wanted.length;
  constexpr double kAskew_cells = 1.4;  // by which an end may lie off with the nearest of the directions tried
  const double longest = 0.5 * (wanted.length ? 0.5 * kLongest_mm / cell : length);
  const double step = std::min(2.0 * kAskew_cells / longest, rad_from_deg(4.0));
  const auto directions = static_cast<std::size_t>(std::ceil(kPi / step));
  std::vector<std::vector<SizedPlace>> found(directions);
  Plainest plainest;
  in_parallel(directions, threads, [&](std::size_t k, std::size_t) {
    const double heading = kPi * static_cast<double>(k) / static_cast<double>(directions);
    boxes_along(summed_edges(edges, heading, sizes.shortest), view, heading, sizes, plainest, found[k]);
    found[k] = distinct_boxes(std::move(found[k]), cell);
  });
  std::vector<SizedPlace> together;
  for (const auto& list : found) together.insert(together.end(), list.begin(), list.end());
  return most_supported(distinct_boxes(std::move(together), cell), {1.5 * cell, 3.0 * cell});
}

// Discs of every size ---------------------------------------------------------------------

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
  double girth = 2.0 * kSlimmest_mm;
  for (; girth < kFinerViews_mm; girth = next_girth(girth)) add_places(search(girth).declared(), girth, girth, places);
  const double first = girth;
  for (const BedSearch larger = search(first); girth <= kLargest_mm; girth = next_girth(girth))
    add_places(larger.of_girth(girth - first), girth, girth, places);
  return places;
}

std::vector<ProposedSize> disc_sizes(std::vector<SizedPlace> places) {
  constexpr double kAlike_mm = 2.0;  // nearer sizes are one, seen twice
  std::stable_sort(places.begin(), places.end(),
                   [](const SizedPlace& a, const SizedPlace& b) { return a.support > b.support; });
  return most_supported(places, {kAlike_mm, kLargest_mm});
}

}  // namespace

std::vector<ProposedSize> propose_sizes(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                        const SizesWanted& wanted, int threads) {
  if (std::holds_alternative<DiscBlank>(blank.shape))
    return disc_sizes(discs_of_any_size(photo, camera, blank, seat, threads));
  return box_sizes(photo, camera, blank, seat, wanted, threads);
}

}  // namespace jigtrue
