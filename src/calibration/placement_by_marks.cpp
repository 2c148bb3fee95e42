#include "jigtrue/calibration/declared_slips.hpp"
#include "jigtrue/calibration/witness.hpp"
#include "jigtrue/image/all_marks.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

namespace jigtrue {

namespace {

// The plane of the bed as complex numbers: a similarity is z -> turn_scale * z + shift.
using Complex = std::complex<double>;
Complex complex(const Vector2d& v) { return {v.x(), v.y()}; }

struct Similarity {
  Complex turn_scale = 1.0;
  Complex shift = 0.0;
  Complex operator()(const Complex& z) const { return turn_scale * z + shift; }
};

struct Explained {
  std::vector<std::pair<std::size_t, std::size_t>> pairs;  // (nominal, seen)
  double change = 0.0;  // how many of place, turn and size would be declared otherwise, then by how much
};

Similarity between(const Complex& from_a, const Complex& from_b, const Complex& to_a, const Complex& to_b) {
  Similarity s;
  s.turn_scale = (to_b - to_a) / (from_b - from_a);
  s.shift = to_a - s.turn_scale * from_a;
  return s;
}

// One slip is likelier than two: marks in a rectangle look alike from its other side.
double change_by(const Similarity& similarity, const Complex& board_origin) {
  constexpr double kOtherTurn = 0.02;   // rad: more than a board is laid askew by eye
  constexpr double kOtherSize = 0.004;  // more than callipers err by over a board
  const double turn = std::abs(std::arg(similarity.turn_scale));
  const double size = std::abs(std::log(std::abs(similarity.turn_scale)));
  const double place = std::abs(similarity(board_origin) - board_origin);
  const int slips =
      (turn > kOtherTurn ? 1 : 0) + (size > kOtherSize ? 1 : 0) + (place > 2.0 * kWitnessSearch_mm ? 1 : 0);
  return slips + 0.1 * (turn + size) / kPi;
}

Explained explained_by(const Similarity& similarity, const Complex& board_origin, const std::vector<Complex>& seen,
                       const std::vector<Complex>& nominal, double within_mm) {
  Explained result;
  result.change = change_by(similarity, board_origin);
  for (std::size_t i = 0; i < nominal.size(); ++i) {
    std::size_t nearest = 0;
    for (std::size_t k = 1; k < seen.size(); ++k)
      if (std::abs(similarity(seen[k]) - nominal[i]) < std::abs(similarity(seen[nearest]) - nominal[i])) nearest = k;
    if (std::abs(similarity(seen[nearest]) - nominal[i]) <= within_mm) result.pairs.emplace_back(i, nearest);
  }
  return result;
}

// Least squares over the pairs.
Similarity fitted(const Explained& explained, const std::vector<Complex>& seen, const std::vector<Complex>& nominal) {
  const auto count = static_cast<double>(explained.pairs.size());
  Complex from = 0.0;
  Complex to = 0.0;
  for (const auto& [n, s] : explained.pairs) {
    from += seen[s] / count;
    to += nominal[n] / count;
  }
  Complex products = 0.0;
  double spread = 0.0;
  for (const auto& [n, s] : explained.pairs) {
    products += std::conj(seen[s] - from) * (nominal[n] - to);
    spread += std::norm(seen[s] - from);
  }
  const Complex turn_scale = products / spread;
  return {turn_scale, to - turn_scale * from};
}

bool better(const Explained& a, const Explained& b) {
  if (a.pairs.size() != b.pairs.size()) return a.pairs.size() > b.pairs.size();
  return a.change < b.change;
}

// The marks that stand on the bed, off the board.
std::vector<Complex> marks_on_bed(const cv::Mat1b& luma, const Camera& camera, const std::vector<Vector3d>& board_mm) {
  Vector2d low = board_mm.front().head<2>();
  Vector2d high = low;
  for (const Vector3d& p : board_mm) {
    low = low.cwiseMin(p.head<2>());
    high = high.cwiseMax(p.head<2>());
  }
  constexpr double kSmallestField_px = 12.0;  // of a mark that is told from texture
  constexpr std::size_t kMostSeen = 200;      // more than any bed has; texture makes more
  std::vector<Complex> places;
  for (const SightedMark& mark : find_all_marks(luma, kSmallestField_px, kMostSeen)) {
    const auto bed = bed_point_at(camera, mark.px, 0.0);
    if (!bed) continue;
    if ((bed->mm.array() > low.array()).all() && (bed->mm.array() < high.array()).all()) continue;
    places.push_back(complex(bed->mm));
  }
  return places;
}

}  // namespace

std::optional<OtherPlacement> placement_by_marks(const cv::Mat1b& luma, const Camera& camera,
                                                 const BoardPlacement& placement, const std::vector<Vector3d>& board_mm,
                                                 const std::vector<Vector2d>& nominal_mm) {
  const std::size_t count = nominal_mm.size();
  if (count < 3 || board_mm.empty()) return std::nullopt;
  const std::vector<Complex> seen = marks_on_bed(luma, camera, board_mm);
  std::vector<Complex> nominal;
  nominal.reserve(count);
  for (const Vector2d& mm : nominal_mm) nominal.push_back(complex(mm));
  const Complex board_origin(placement.x_mm, placement.y_mm);
  Explained best;
  for (std::size_t i = 0; i < count; ++i)
    for (std::size_t j = i + 1; j < count; ++j)
      for (std::size_t k = 0; k < seen.size(); ++k)
        for (std::size_t l = 0; l < seen.size(); ++l) {
          if (k == l || std::abs(seen[k] - seen[l]) < kWitnessSearch_mm) continue;
          const Explained now = explained_by(between(seen[k], seen[l], nominal[i], nominal[j]), board_origin, seen,
                                             nominal, 2.0 * kWitnessSearch_mm);
          if (better(now, best)) best = now;
        }
  if (best.pairs.size() < 3 || 4 * best.pairs.size() < 3 * count) return std::nullopt;
  const Similarity similarity = fitted(best, seen, nominal);
  best = explained_by(similarity, board_origin, seen, nominal, kWitnessSearch_mm);
  if (best.pairs.size() < 3 || 4 * best.pairs.size() < 3 * count) return std::nullopt;
  OtherPlacement other;
  other.placement = placement;
  const Complex origin = similarity(board_origin);
  other.placement.x_mm = origin.real();
  other.placement.y_mm = origin.imag();
  other.placement.angle_deg =
      std::remainder(placement.angle_deg + deg_from_rad(std::arg(similarity.turn_scale)), 360.0);
  other.square_ratio = std::abs(similarity.turn_scale);
  other.marks = static_cast<int>(best.pairs.size());
  return other;
}

}  // namespace jigtrue
