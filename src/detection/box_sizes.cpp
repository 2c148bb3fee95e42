#include "detection/box_sizes.hpp"

#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/detection/coarse_search.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstddef>
#include <utility>
#include <variant>

#include "detection/outline_template.hpp"
#include "detection/sized_places.hpp"
#include "detection/summed_edges.hpp"

namespace jigtrue {
namespace {

struct BoxSizes {
  std::vector<int> girths;  // cells
  CellRange lengths;
  int shortest = 0;    // cells, that a blank's sides have at least
  bool lying = false;  // longer than wide: a plate of which neither is declared would be seen both ways
};

BoxSizes sizes_to_try(const Blank& blank, const SizesWanted& wanted, double mm_per_cell) {
  constexpr double kGirthStep = 0.05;  // of the size: rims within it support the same radius
  const auto cells = [&](double mm) { return whole_cells(mm, mm_per_cell); };
  const bool plate = std::holds_alternative<PlateBlank>(blank.shape);
  BoxSizes sizes;
  const double girth_mm = largest_girth_mm(blank.shape);
  const int widest = wanted.girth ? cells(plate ? kUsual.largest_mm : kUsual.widest_mm) : cells(girth_mm);
  for (int girth = wanted.girth ? cells(kUsual.slimmest_mm) : cells(girth_mm); girth <= widest;
       girth += std::max(1, static_cast<int>(kGirthStep * girth)))
    sizes.girths.push_back(girth);
  const int length = cells(length_mm(blank.shape));
  sizes.lengths = wanted.length ? CellRange{cells(kUsual.shortest_mm), cells(kUsual.longest_mm)}
                                : CellRange{length - 3, length + 3};
  sizes.shortest = cells(kUsual.shortest_mm);
  sizes.lying = wanted.girth && wanted.length;
  return sizes;
}

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

float length_of(const cv::Vec3f& v) { return std::sqrt(v.dot(v)); }

// Outlines of one direction: any two rows as far apart as a girth, any two ends between them as far apart as a length.
class BoxSearch {
 public:
  BoxSearch(const SummedEdges& edges, const BedView& view, double heading_rad, const BoxSizes& sizes,
            Plainest& plainest)
      : edges_(edges), view_(view), heading_rad_(heading_rad), sizes_(sizes), plainest_(plainest) {}

  [[nodiscard]] std::vector<SizedPlace> found() && {
    for (int low = 0; low < edges_.rows(); ++low) {
      if (edges_.beside[static_cast<std::size_t>(low)].empty()) continue;
      for (const int girth : sizes_.girths) {
        if (low + girth >= edges_.rows()) break;
        look_between({low, low + girth});
      }
    }
    return std::move(found_);
  }

 private:
  struct Sides {
    int low;
    int high;
  };
  const SummedEdges& edges_;
  const BedView& view_;
  double heading_rad_;
  const BoxSizes& sizes_;
  Plainest& plainest_;
  std::vector<SizedPlace> found_;
  // room that is kept from one pair of rows to the next
  EndsBetween between_;
  std::vector<EndAt> starts_;
  std::vector<EndAt> stops_;

  [[nodiscard]] float side(int row, int from, int to) const {
    return length_of(edges_.along_rows(row, to) - edges_.along_rows(row, from)) / static_cast<float>(to - from);
  }
  [[nodiscard]] bool sides_run(const Sides& sides, int from, int to) const {
    constexpr float kNearEnd = 0.2F;  // support of the sides beside an end, which a corner may round
    return from >= 0 && to <= edges_.columns() && side(sides.low, from, to) >= kNearEnd &&
           side(sides.high, from, to) >= kNearEnd;
  }
  void look_between(const Sides& sides) {
    find_ends(edges_, sides.low, sides.high, between_);
    starts_.clear();
    stops_.clear();
    for (const EndAt& end : between_.ends) {
      if (sides_run(sides, end.column, end.column + sizes_.shortest)) starts_.push_back(end);
      if (sides_run(sides, end.column - sizes_.shortest, end.column)) stops_.push_back(end);
    }
    const int girth = sides.high - sides.low;
    const int shortest = sizes_.lying ? std::max(sizes_.lengths.low, girth) : sizes_.lengths.low;
    std::size_t first = 0;
    for (const EndAt& start : starts_) {
      while (first < stops_.size() && stops_[first].column - start.column < shortest) ++first;
      for (std::size_t j = first; j < stops_.size(); ++j) {
        if (stops_[j].column - start.column > sizes_.lengths.high) break;
        judge(sides, start, stops_[j]);
      }
    }
  }
  void judge(const Sides& sides, const EndAt& start, const EndAt& stop) {
    constexpr double kLeast = 0.25;  // support of a whole outline, of 1
    const float one = side(sides.low, start.column, stop.column);
    if (one < kLeastSide) return;
    const float other = side(sides.high, start.column, stop.column);
    if (other < kLeastSide) return;
    const double whole = whole_outline(std::sqrt(static_cast<double>(one * other)),
                                       std::sqrt(static_cast<double>(start.support * stop.support)));
    if (whole < kLeast || whole < plainest_.least()) return;
    plainest_.see(whole);
    const cv::Vec2d at =
        edges_.turn * cv::Vec3d(0.5 * (start.column + stop.column), 0.5 * (sides.low + sides.high), 1.0);
    const double cell = view_.mm_per_cell;
    found_.push_back({{view_.bed_mm({at[0], at[1]}), heading_rad_, (sides.high - sides.low) * cell,
                       (stop.column - start.column) * cell},
                      whole});
  }
};

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

}  // namespace

std::vector<ProposedSize> box_sizes(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                    const SizesWanted& wanted, int threads) {
  constexpr double kCell_mm = 1.0;  // sizes are only proposed here, and measured later
  const BedView view = bed_view(photo, camera, {outline_height_mm(blank, seat), kCell_mm, 0.0});
  if (view.picture.empty()) return {};
  const double cell = view.mm_per_cell;
  const EdgePicture edges = edges_of(view);
  const BoxSizes sizes = sizes_to_try(blank, wanted, cell);
  constexpr double kAskew_cells = 1.4;  // by which an end may lie off with the nearest of the directions tried
  const double longest =
      0.5 * (wanted.length ? 0.5 * kUsual.longest_mm / cell : whole_cells(length_mm(blank.shape), cell));
  const double step = std::min(2.0 * kAskew_cells / longest, rad_from_deg(4.0));
  const auto directions = static_cast<std::size_t>(std::ceil(kPi / step));
  std::vector<std::vector<SizedPlace>> found(directions);
  Plainest plainest;
  in_parallel(directions, threads, [&](std::size_t k, std::size_t) {
    const double heading = kPi * static_cast<double>(k) / static_cast<double>(directions);
    const SummedEdges summed = summed_edges(edges, heading, sizes.shortest);
    found[k] = distinct_boxes(BoxSearch(summed, view, heading, sizes, plainest).found(), cell);
  });
  std::vector<SizedPlace> together;
  for (const auto& list : found) together.insert(together.end(), list.begin(), list.end());
  return most_supported(distinct_boxes(std::move(together), cell), {1.5 * cell, 3.0 * cell});
}

}  // namespace jigtrue
