#include "image/grow_grid.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <deque>
#include <limits>
#include <optional>
#include <utility>

namespace jigtrue {
namespace {

// A ring 3.5 px wide reads an edge's direction to some degrees, and a wide lens bends it by ten or more on its way.
constexpr double kRayTolerance = 20.0 * kPi / 180.0;
constexpr int kNobody = -1;

double grey_at(const cv::Mat1b& luma, const Vector2d& p) {
  const int x = std::clamp(static_cast<int>(std::lround(p.x())), 0, luma.cols - 1);
  const int y = std::clamp(static_cast<int>(std::lround(p.y())), 0, luma.rows - 1);
  return static_cast<double>(luma(y, x));
}

// The edge between two neighbours has one colour along its left and the other along its right, all the way.
bool edge_holds(const cv::Mat1b& luma, const Saddle& from, std::size_t ray, const Vector2d& to) {
  const Vector2d along = to - from.px;
  const Vector2d across = turned_left(along);  // towards larger angles
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

// The rays of all corners as unit vectors.
using Rays = std::vector<std::array<Vector2d, 4>>;
Rays rays_of(const std::vector<Saddle>& saddles) {
  Rays rays(saddles.size());
  for (std::size_t i = 0; i < saddles.size(); ++i)
    for (std::size_t ray = 0; ray < 4; ++ray)
      rays[i][ray] = {std::cos(saddles[i].ray_rad[ray]), std::sin(saddles[i].ray_rad[ray])};
  return rays;
}

// The ray of another corner, offset from here, that comes back this way.
std::optional<std::size_t> facing_ray(const Saddle& other, const std::array<Vector2d, 4>& rays, const Vector2d& offset,
                                      double cosine, int after) {
  for (std::size_t ray = 0; ray < 4; ++ray)
    if (other.after[ray] == -after && -rays[ray].dot(offset) > cosine * offset.norm()) return ray;
  return std::nullopt;
}

// For each ray of a corner the nearest other along it that looks back.
std::array<Joint, 4> nearest_along_rays(const cv::Mat1b& luma, const std::vector<Saddle>& saddles, const Rays& rays,
                                        std::size_t self) {
  static const double cosine = std::cos(kRayTolerance);
  constexpr double kNone = std::numeric_limits<double>::infinity();  // no neighbour
  const Saddle& from = saddles[self];
  std::array<Joint, 4> best;
  std::array<double, 4> best_square{kNone, kNone, kNone, kNone};
  for (std::size_t i = 0; i < saddles.size(); ++i) {
    const Vector2d offset = saddles[i].px - from.px;
    const double square = offset.squaredNorm();
    if (i == self) continue;
    for (std::size_t ray = 0; ray < 4; ++ray) {
      if (square >= best_square[ray]) continue;
      const double ahead = offset.dot(rays[self][ray]);
      if (ahead <= 0.0 || ahead * ahead < cosine * cosine * square) continue;
      const auto facing = facing_ray(saddles[i], rays[i], offset, cosine, from.after[ray]);
      if (!facing || !edge_holds(luma, from, ray, saddles[i].px)) continue;
      best[ray] = {static_cast<int>(i), *facing};
      best_square[ray] = square;
    }
  }
  return best;
}

double length(const std::vector<Saddle>& saddles, std::size_t self, const Joint& joint) {
  return (saddles[static_cast<std::size_t>(joint.other)].px - saddles[self].px).norm();
}

// Spacings along a line change slowly, whatever the lens: of two very unlike ones the longer joins something else.
void drop_uneven(const std::vector<Saddle>& saddles, Joints& joints) {
  constexpr double kMostUneven = 1.6;  // times the shorter one: perspective makes less from one square to the next
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
  const Rays rays = rays_of(saddles);
  Joints joints(saddles.size());
  for (std::size_t i = 0; i < saddles.size(); ++i) joints[i] = nearest_along_rays(luma, saddles, rays, i);
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

// Walks the joints from one corner, giving each its place. Rays ascend in angle, so ray k + 1 is a quarter turn on; the
// picture's y runs down, so that is clockwise as seen, and rows count against it. A joint that contradicts those walked
// before is passed over: the corners' measuring decides.
PlacedCorners walk(const std::vector<Saddle>& saddles, const Joints& joints, int seed, std::vector<char>& visited) {
  // to the neighbours, counter-clockwise
  constexpr int kStepColumn[4] = {1, 0, -1, 0};
  constexpr int kStepRow[4] = {0, -1, 0, 1};
  struct Stop {
    int corner = kNobody;
    GridPlace place;
    int turn = 0;  // grid direction = ray + turn
  };
  PlacedCorners group;
  group[{0, 0}].px = saddles[static_cast<std::size_t>(seed)].px;
  visited[static_cast<std::size_t>(seed)] = 1;
  std::deque<Stop> open{{seed, {0, 0}, 0}};
  while (!open.empty()) {
    const Stop here = open.front();
    open.pop_front();
    for (int ray = 0; ray < 4; ++ray) {
      const Joint& joint = joints[static_cast<std::size_t>(here.corner)][static_cast<std::size_t>(ray)];
      if (joint.other == kNobody || visited[static_cast<std::size_t>(joint.other)]) continue;
      const int direction = (ray + here.turn) % 4;
      const GridPlace place{here.place.column + kStepColumn[direction], here.place.row + kStepRow[direction]};
      const auto other = static_cast<std::size_t>(joint.other);
      const auto [entry, is_new] = group.try_emplace(place);
      if (!is_new) continue;
      entry->second.px = saddles[other].px;
      visited[other] = 1;
      open.push_back({joint.other, place, (direction + 2 - static_cast<int>(joint.other_ray) + 4) % 4});
    }
  }
  return group;
}

}  // namespace

std::vector<PlacedCorners> grow_grids(const cv::Mat1b& luma, const std::vector<Saddle>& saddles) {
  const Joints joints = join(luma, saddles);
  std::vector<char> visited(saddles.size(), 0);
  std::vector<PlacedCorners> found;
  for (std::size_t seed = 0; seed < saddles.size(); ++seed) {
    if (visited[seed]) continue;
    PlacedCorners group = walk(saddles, joints, static_cast<int>(seed), visited);
    if (group.size() >= 4) found.push_back(std::move(group));
  }
  std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.size() > b.size(); });
  return found;
}

}  // namespace jigtrue
