#include "image/grow_grid.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <limits>
#include <map>
#include <optional>
#include <utility>

namespace jigtrue {
namespace {

constexpr double kRayTolerance = 14.0 * kPi / 180.0;  // a ring 3.5 px wide reads an edge's direction to some degrees
constexpr int kNobody = -1;

double angle_between(double a, double b) { return std::abs(std::remainder(a - b, 2.0 * kPi)); }

double grey_at(const cv::Mat1b& luma, const Vector2d& p) {
  const int x = std::clamp(static_cast<int>(std::lround(p.x())), 0, luma.cols - 1);
  const int y = std::clamp(static_cast<int>(std::lround(p.y())), 0, luma.rows - 1);
  return static_cast<double>(luma(y, x));
}

// The edge between two neighbours has one colour along its left and the other along its right, all the way.
bool edge_holds(const cv::Mat1b& luma, const Saddle& from, std::size_t ray, const Vector2d& to) {
  const Vector2d along = to - from.px;
  const Vector2d across(-along.y(), along.x());  // towards larger angles
  for (const double share : {0.25, 0.4, 0.5, 0.6, 0.75}) {
    const double after = grey_at(luma, from.px + share * along + 0.22 * across);
    const double before = grey_at(luma, from.px + share * along - 0.22 * across);
    if (from.after[ray] * (after - before) < 0.7 * from.contrast) return false;
  }
  return true;
}

struct Joint {
  int other = kNobody;
  std::size_t other_ray = 0;
};
using Joints = std::vector<std::array<Joint, 4>>;

std::optional<std::size_t> facing_ray(const Saddle& other, double direction, int after) {
  for (std::size_t ray = 0; ray < 4; ++ray)
    if (other.after[ray] == -after && angle_between(other.ray_rad[ray], direction + kPi) < kRayTolerance) return ray;
  return std::nullopt;
}

Joint nearest_along(const cv::Mat1b& luma, const std::vector<Saddle>& saddles, std::size_t self, std::size_t ray) {
  const Saddle& from = saddles[self];
  const Vector2d direction(std::cos(from.ray_rad[ray]), std::sin(from.ray_rad[ray]));
  const double cosine = std::cos(kRayTolerance);
  Joint best;
  double best_square = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < saddles.size(); ++i) {
    const Vector2d offset = saddles[i].px - from.px;
    const double ahead = offset.dot(direction);
    const double square = offset.squaredNorm();
    if (i == self || ahead <= 0.0 || square >= best_square || ahead * ahead < cosine * cosine * square) continue;
    const double angle = std::atan2(offset.y(), offset.x());
    const auto facing = facing_ray(saddles[i], angle, from.after[ray]);
    if (!facing || !edge_holds(luma, from, ray, saddles[i].px)) continue;
    best = {static_cast<int>(i), *facing};
    best_square = square;
  }
  return best;
}

double length(const std::vector<Saddle>& saddles, std::size_t self, const Joint& joint) {
  return (saddles[static_cast<std::size_t>(joint.other)].px - saddles[self].px).norm();
}

// Spacings along a line change slowly, whatever the lens: of two very unlike ones the longer joins something else.
void drop_uneven(const std::vector<Saddle>& saddles, Joints& joints) {
  constexpr double kMostUneven = 1.6;
  const Joints before = joints;
  for (std::size_t i = 0; i < saddles.size(); ++i)
    for (std::size_t ray = 0; ray < 4; ++ray) {
      const Joint& joint = before[i][ray];
      const Joint& opposite = before[i][(ray + 2) % 4];
      if (joint.other == kNobody || opposite.other == kNobody) continue;
      if (length(saddles, i, joint) < kMostUneven * length(saddles, i, opposite)) continue;
      joints[i][ray] = {};
      joints[static_cast<std::size_t>(joint.other)][joint.other_ray] = {};
    }
}

Joints join(const cv::Mat1b& luma, const std::vector<Saddle>& saddles) {
  Joints joints(saddles.size());
  for (std::size_t i = 0; i < saddles.size(); ++i)
    for (std::size_t ray = 0; ray < 4; ++ray) joints[i][ray] = nearest_along(luma, saddles, i, ray);
  Joints mutual(saddles.size());
  for (std::size_t i = 0; i < saddles.size(); ++i) {
    for (std::size_t ray = 0; ray < 4; ++ray) {
      const Joint& joint = joints[i][ray];
      if (joint.other == kNobody) continue;
      const Joint& back = joints[static_cast<std::size_t>(joint.other)][joint.other_ray];
      if (back.other == static_cast<int>(i) && back.other_ray == ray) mutual[i][ray] = joint;
    }
  }
  drop_uneven(saddles, mutual);
  return mutual;
}

using Cell = std::pair<int, int>;  // row, column

struct Group {
  std::map<Cell, int> cells;
  bool contradictory = false;
};

// Walks the joints from one corner, giving each its place. Rays ascend in angle, so ray k + 1 is a quarter turn on.
Group walk(const Joints& joints, int seed, std::vector<char>& visited) {
  constexpr int kStepColumn[4] = {1, 0, -1, 0};
  constexpr int kStepRow[4] = {0, 1, 0, -1};
  struct Place {
    Cell cell;
    int turn = 0;  // grid direction = ray + turn
  };
  Group group;
  std::map<int, Place> places{{seed, {{0, 0}, 0}}};
  group.cells[{0, 0}] = seed;
  visited[static_cast<std::size_t>(seed)] = 1;
  std::deque<int> open{seed};
  while (!open.empty()) {
    const int self = open.front();
    open.pop_front();
    const Place place = places.at(self);
    for (int ray = 0; ray < 4; ++ray) {
      const Joint& joint = joints[static_cast<std::size_t>(self)][static_cast<std::size_t>(ray)];
      if (joint.other == kNobody) continue;
      const int direction = (ray + place.turn) % 4;
      const Cell cell{place.cell.first + kStepRow[direction], place.cell.second + kStepColumn[direction]};
      const int turn = (direction + 2 - static_cast<int>(joint.other_ray) + 4) % 4;
      const auto known = places.find(joint.other);
      if (known != places.end()) {
        if (known->second.cell != cell || known->second.turn != turn) group.contradictory = true;
        continue;
      }
      if (!group.cells.emplace(cell, joint.other).second) {
        group.contradictory = true;
        continue;
      }
      places[joint.other] = {cell, turn};
      visited[static_cast<std::size_t>(joint.other)] = 1;
      open.push_back(joint.other);
    }
  }
  return group;
}

struct Bounds {
  int first_row = 0, last_row = 0, first_column = 0, last_column = 0;
  [[nodiscard]] int rows() const { return last_row - first_row + 1; }
  [[nodiscard]] int columns() const { return last_column - first_column + 1; }
};

Bounds bounds_of(const std::map<Cell, int>& cells) {
  Bounds b{cells.begin()->first.first, cells.begin()->first.first, cells.begin()->first.second,
           cells.begin()->first.second};
  for (const auto& [cell, saddle] : cells) {
    b.first_row = std::min(b.first_row, cell.first);
    b.last_row = std::max(b.last_row, cell.first);
    b.first_column = std::min(b.first_column, cell.second);
    b.last_column = std::max(b.last_column, cell.second);
  }
  return b;
}

// A stray corner beside the board can hang on to it: outer lines less than half full do not belong to a board.
void drop_stray_lines(std::map<Cell, int>& cells) {
  for (bool dropped = true; dropped && cells.size() > 1;) {
    dropped = false;
    const Bounds b = bounds_of(cells);
    const auto drop = [&](bool by_row, int line, int length) {
      const auto on_line = [&](const auto& entry) { return (by_row ? entry.first.first : entry.first.second) == line; };
      const auto count = std::count_if(cells.begin(), cells.end(), on_line);
      if (dropped || 2 * count >= length) return;
      std::erase_if(cells, on_line);
      dropped = true;
    };
    drop(true, b.first_row, b.columns());
    drop(true, b.last_row, b.columns());
    drop(false, b.first_column, b.rows());
    drop(false, b.last_column, b.rows());
  }
}

// Where neighbours on one line put a missing corner: between two, or on from three (with their bend) or two.
std::optional<Vector2d> foresee(const CornerGrid& grid, int column, int row) {
  Vector2d sum = Vector2d::Zero();
  int count = 0;
  const auto at = [&](int c, int r) -> const Vector2d* {
    if (c < 0 || r < 0 || c >= grid.columns || r >= grid.rows || !grid.seen[grid.index(c, r)]) return nullptr;
    return &grid.px[grid.index(c, r)];
  };
  for (const auto& [dc, dr] : {std::pair{1, 0}, std::pair{0, 1}}) {
    const auto* before = at(column - dc, row - dr);
    const auto* after = at(column + dc, row + dr);
    if (before != nullptr && after != nullptr) {
      sum += 0.5 * (*before + *after);
      ++count;
      continue;
    }
    for (const int side : {-1, 1}) {
      const auto* p1 = at(column + side * dc, row + side * dr);
      const auto* p2 = at(column + 2 * side * dc, row + 2 * side * dr);
      const auto* p3 = at(column + 3 * side * dc, row + 3 * side * dr);
      if (p1 == nullptr || p2 == nullptr) continue;
      sum += p3 != nullptr ? Vector2d(3.0 * *p1 - 3.0 * *p2 + *p3) : Vector2d(2.0 * *p1 - *p2);
      ++count;
    }
  }
  if (count == 0) return std::nullopt;
  return Vector2d(sum / count);
}

CornerGrid to_grid(const std::map<Cell, int>& cells, const std::vector<Saddle>& saddles) {
  const Bounds b = bounds_of(cells);
  CornerGrid grid;
  grid.columns = b.columns();
  grid.rows = b.rows();
  grid.px.assign(static_cast<std::size_t>(grid.columns) * static_cast<std::size_t>(grid.rows), Vector2d::Zero());
  grid.seen.assign(grid.px.size(), 0);
  for (const auto& [cell, saddle] : cells) {
    const std::size_t i = grid.index(cell.second - b.first_column, cell.first - b.first_row);
    grid.px[i] = saddles[static_cast<std::size_t>(saddle)].px;
    grid.seen[i] = 1;
  }
  grid.seen_count = static_cast<int>(cells.size());
  return grid;
}

// Gives corners that were missed their foreseen place; the fit on the original pixels decides about them. False when
// some corner has no neighbours to be foreseen from.
bool fill_gaps(CornerGrid& grid) {
  for (int row = 0; row < grid.rows; ++row)
    for (int column = 0; column < grid.columns; ++column) {
      const std::size_t i = grid.index(column, row);
      if (grid.seen[i]) continue;
      if (const auto place = foresee(grid, column, row))
        grid.px[i] = *place;
      else
        return false;
    }
  return true;
}

}  // namespace

CornerGrids grow_grids(const cv::Mat1b& luma, const std::vector<Saddle>& saddles) {
  const Joints joints = join(luma, saddles);
  std::vector<char> visited(saddles.size(), 0);
  CornerGrids found;
  for (std::size_t seed = 0; seed < saddles.size(); ++seed) {
    if (visited[seed]) continue;
    Group group = walk(joints, static_cast<int>(seed), visited);
    if (group.cells.size() < 4) continue;
    if (group.contradictory) {
      ++found.contradictory;
      continue;
    }
    drop_stray_lines(group.cells);
    CornerGrid grid = to_grid(group.cells, saddles);
    if (grid.columns < 2 || grid.rows < 2 || !fill_gaps(grid)) continue;
    found.grids.push_back(std::move(grid));
  }
  std::stable_sort(found.grids.begin(), found.grids.end(),
                   [](const CornerGrid& a, const CornerGrid& b) { return a.seen_count > b.seen_count; });
  return found;
}

}  // namespace jigtrue
