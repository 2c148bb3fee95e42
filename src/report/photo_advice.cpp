#include "jigtrue/report/photo_advice.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {

namespace {

constexpr double kTilted_deg = 12.0;  // less tells little about the focal length
constexpr std::size_t kMostSentences = 3;

struct Region {
  const char* name;
  int columns_from, columns_to;  // of fields, the last one past the end
  int rows_from, rows_to;
  double empty = 0.0;  // share of its fields without corners
};

std::array<Region, 9> regions(const Coverage& covered) {
  std::array<Region, 9> list = {{{"upper left corner", 0, 3, 0, 2},
                                 {"upper right corner", 5, 8, 0, 2},
                                 {"lower left corner", 0, 3, 4, 6},
                                 {"lower right corner", 5, 8, 4, 6},
                                 {"upper edge", 3, 5, 0, 2},
                                 {"lower edge", 3, 5, 4, 6},
                                 {"left edge", 0, 3, 2, 4},
                                 {"right edge", 5, 8, 2, 4},
                                 {"middle", 3, 5, 2, 4}}};
  for (Region& region : list) {
    int fields = 0;
    int empty = 0;
    for (int row = region.rows_from; row < region.rows_to; ++row) {
      for (int column = region.columns_from; column < region.columns_to; ++column) {
        ++fields;
        if (covered.at(column, row) == 0) ++empty;
      }
    }
    region.empty = static_cast<double>(empty) / fields;
  }
  return list;
}

constexpr std::array<NearEdge, 4> kEdges = {NearEdge::left, NearEdge::right, NearEdge::upper, NearEdge::lower};

// The four edges, those least often held towards the camera first.
struct EdgeCounts {
  std::array<int, 4> photos{};
  [[nodiscard]] int of(NearEdge edge) const { return photos[static_cast<std::size_t>(edge)]; }
  [[nodiscard]] std::array<NearEdge, 4> rarest_first() const {
    std::array<NearEdge, 4> edges = kEdges;
    std::stable_sort(edges.begin(), edges.end(), [this](NearEdge a, NearEdge b) { return of(a) < of(b); });
    return edges;
  }
};

EdgeCounts edge_counts(const LensFit& fit) {
  EdgeCounts counts;
  for (const PhotoFit& photo : fit.photos) {
    if (!photo.used) continue;
    const BoardTilt tilt = board_tilt(photo);
    if (tilt.angle_deg >= kTilted_deg) ++counts.photos[static_cast<std::size_t>(tilt.near_edge)];
  }
  return counts;
}

std::string tilted(NearEdge edge) {
  return std::string("its ") + to_string(edge) + " edge tilted towards the camera by 20 to 45 degrees";
}

}  // namespace

int Coverage::empty() const { return static_cast<int>(std::count(corners.begin(), corners.end(), 0)); }

Coverage coverage(const LensFit& fit) {
  Coverage covered;
  for (const PhotoFit& photo : fit.photos) {
    if (!photo.used) continue;
    for (std::size_t i = 0; i < photo.points.size(); ++i) {
      if (!photo.point_used[i]) continue;
      const Vector2d& px = photo.points[i].px;
      const auto field = [](double at, int size, int fields) {
        return std::clamp(static_cast<int>(std::floor((at + 0.5) / size * fields)), 0, fields - 1);
      };
      const int column = field(px.x(), fit.lens.width_px, kFieldColumns);
      const int row = field(px.y(), fit.lens.height_px, kFieldRows);
      ++covered.at(column, row);
    }
  }
  return covered;
}

const char* to_string(NearEdge edge) {
  switch (edge) {
    case NearEdge::right:
      return "right";
    case NearEdge::upper:
      return "upper";
    case NearEdge::lower:
      return "lower";
    case NearEdge::left:
      break;
  }
  return "left";
}

BoardTilt board_tilt(const PhotoFit& photo) {
  Vector3d middle = Vector3d::Zero();
  for (const SeenPoint& point : photo.points) middle += point.mm / static_cast<double>(photo.points.size());
  const Vector3d sight = (photo.camera_from_board * middle).normalized();
  const Vector3d normal = photo.camera_from_board.rotation.col(2);  // out of the face, towards the camera
  BoardTilt tilt;
  tilt.angle_deg = deg_from_rad(std::acos(std::clamp(-normal.dot(sight), -1.0, 1.0)));
  // where the normal leans to, the face recedes: the opposite edge is the near one
  const Vector3d across = normal - normal.dot(sight) * sight;
  if (std::abs(across.x()) >= std::abs(across.y())) {
    tilt.near_edge = across.x() > 0.0 ? NearEdge::left : NearEdge::right;
  } else {
    tilt.near_edge = across.y() > 0.0 ? NearEdge::upper : NearEdge::lower;
  }
  return tilt;
}

std::vector<std::string> next_photos(const LensFit& fit) {
  auto places = regions(coverage(fit));
  std::stable_sort(places.begin(), places.end(), [](const Region& a, const Region& b) { return a.empty > b.empty; });
  const EdgeCounts counts = edge_counts(fit);
  const std::array<NearEdge, 4> edges = counts.rarest_first();
  std::vector<std::string> sentences;
  for (const Region& place : places) {
    if (place.empty == 0.0 || sentences.size() == kMostSentences) break;
    sentences.push_back("Hold the board into the " + std::string(place.name) + " of the picture, " +
                        tilted(edges[sentences.size()]) + ".");
  }
  for (const NearEdge edge : edges) {
    if (counts.of(edge) > 0 || sentences.size() >= kMostSentences) break;
    const bool said = std::any_of(sentences.begin(), sentences.end(), [&](const std::string& sentence) {
      return sentence.find(tilted(edge)) != std::string::npos;
    });
    if (!said)
      sentences.push_back("Hold the board near the middle of the picture, " + tilted(edge) + ": no photo has it so.");
  }
  return sentences;
}

}  // namespace jigtrue
