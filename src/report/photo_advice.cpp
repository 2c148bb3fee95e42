#include "jigtrue/report/photo_advice.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/image/sensor_range.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>

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

// Without its folder: sentences stay readable.
std::string bare_name(const std::string& file) { return std::filesystem::path(file).filename().string(); }

// The photo whose corners come nearest to the middle of an empty region.
std::string nearest_to(const LensFit& fit, const Region& region) {
  const Vector2d middle(fit.lens.width_px * 0.5 * (region.columns_from + region.columns_to) / kFieldColumns,
                        fit.lens.height_px * 0.5 * (region.rows_from + region.rows_to) / kFieldRows);
  const PhotoFit* nearest = nullptr;
  double least = 1e18;
  for (const PhotoFit& photo : fit.photos) {
    if (!photo.used) continue;
    for (const SeenPoint& point : photo.points)
      if ((point.px - middle).norm() < least) {
        least = (point.px - middle).norm();
        nearest = &photo;
      }
  }
  return nearest == nullptr ? std::string() : bare_name(nearest->file);
}

std::string listed(const std::vector<std::string>& names) {
  constexpr std::size_t kMost = 4;
  std::string list;
  for (std::size_t i = 0; i < std::min(names.size(), kMost); ++i) list += (i == 0 ? "" : ", ") + names[i];
  if (names.size() > kMost) list += " and " + std::to_string(names.size() - kMost) + " more";
  return list;
}

// All boards held nearly alike tell the lens from one side only.
std::string always_the_same_tilt(const LensFit& fit) {
  constexpr double kAlike_deg = 10.0;
  constexpr std::size_t kFew = 3;
  std::vector<Vector3d> normals;  // against the sight ray to each board's middle
  std::vector<std::string> files;
  BoardTilt first;
  for (const PhotoFit& photo : fit.photos) {
    if (!photo.used) continue;
    if (normals.empty()) first = board_tilt(photo);
    Vector3d middle = Vector3d::Zero();
    for (const SeenPoint& point : photo.points) middle += point.mm / static_cast<double>(photo.points.size());
    const Vector3d sight = (photo.camera_from_board * middle).normalized();
    normals.push_back(Eigen::Quaterniond::FromTwoVectors(sight, Vector3d::UnitZ()) *
                      photo.camera_from_board.rotation.col(2));
    files.push_back(bare_name(photo.file));
  }
  if (normals.size() < kFew) return {};
  for (const Vector3d& normal : normals)
    if (deg_from_rad(std::acos(std::clamp(normal.dot(normals.front()), -1.0, 1.0))) > kAlike_deg) return {};
  const std::string how = first.angle_deg < kTilted_deg
                              ? "nearly square to the camera"
                              : std::string("with its ") + to_string(first.near_edge) + " edge near";
  return "The board was always held alike, " + how + " (" + listed(files) +
         "): tilt it by 20 to 45 degrees towards each side in turn.";
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
  std::size_t asked = 0;
  if (const std::string alike = always_the_same_tilt(fit); !alike.empty()) sentences.push_back(alike);
  for (const Region& place : places) {
    if (place.empty == 0.0 || sentences.size() == kMostSentences) break;
    const std::string nearest = nearest_to(fit, place);
    sentences.push_back("Hold the board into the " + std::string(place.name) + " of the picture, " +
                        tilted(edges[asked++]) +
                        (nearest.empty() ? "." : ": none was there, nearest came that in " + nearest + "."));
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

std::vector<std::string> photo_faults(const std::vector<PhotoLook>& photos, int width_px, int height_px) {
  constexpr double kDark = 70.0;         // of 255: what white paper has in a photo that is too dark
  constexpr double kBlackLifted = 90.0;  // clipped white bleeds over the edges and, as under haze, black turns grey
  constexpr double kSofter = 2.0;        // times the median of the others
  constexpr double kSoftest = 0.3;       // of a field's side: the edges of neighbours begin to meet
  constexpr double kLeastSoft_px = 3.0;  // as sharp as a camera's own processing leaves most photos
  std::vector<double> widths;
  for (const PhotoLook& photo : photos)
    if (photo.board && photo.board->edge_px > 0.0) widths.push_back(photo.board->edge_px);
  const double usual = median(widths).value_or(0.0);
  std::vector<std::string> faults;
  const auto add = [&](const PhotoLook& photo, const std::string& what) {
    faults.push_back(bare_name(photo.file) + " " + what);
  };
  for (const PhotoLook& photo : photos) {
    if (!photo.board) {
      if (photo.bright < kDark) add(photo, "is too dark for the board to be found: more light, or a longer exposure.");
      continue;
    }
    const BoardLook& look = *photo.board;
    if (look.white < kDark)
      add(photo, "is dark (paper at " + fixed_text(look.white, 0) + " of 255): more light, or a longer exposure.");
    if (look.white >= kSensorFull && look.black > kBlackLifted)
      add(photo, "is overexposed: less light, or a shorter exposure.");
    if (look.edge_px > kLeastSoft_px && (look.edge_px > kSofter * usual || look.edge_px > kSoftest * look.field_px))
      add(photo, "is soft (edges " + fixed_text(look.edge_px, 1) + " px wide, " +
                     (look.edge_px > kSofter * usual ? "others' " + fixed_text(usual, 1) + " px"
                                                     : "fields of " + fixed_text(look.field_px, 0) + " px") +
                     "): hold still, and let the camera focus.");
    if (look.washed_out > 0) {
      const char* across = look.washed_out_px.x() < width_px / 3.0         ? "left"
                           : look.washed_out_px.x() > width_px * 2.0 / 3.0 ? "right"
                                                                           : "middle";
      const char* down = look.washed_out_px.y() < height_px / 3.0         ? "upper "
                         : look.washed_out_px.y() > height_px * 2.0 / 3.0 ? "lower "
                                                                          : "";
      add(photo, "has a reflection over " +
                     (look.washed_out == 1 ? "a square" : std::to_string(look.washed_out) + " squares") + ", in the " +
                     down + across + " of the picture: turn the board or the lamp.");
    }
  }
  return faults;
}

}  // namespace jigtrue
