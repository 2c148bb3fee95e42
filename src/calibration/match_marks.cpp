#include "jigtrue/calibration/match_marks.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/calibration/view_pose.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestMatched = 4;  // four points make a homography
constexpr std::size_t kMaxQuads = 150;     // fours of seen marks that are tried
// A mark's own size gives the picture's scale to about a tenth; between two marks perspective changes it further.
constexpr double kScaleSlack = 1.35;
// All marks' sizes together, against a pose (logarithm): blur and kerf change a field by a few hundredths.
constexpr double kSizeSlack = 0.1;
// Shares of a field: how near a mark must lie to where a first and a refined pose put it.
constexpr double kNearFirst = 0.5;
constexpr double kNearRefined = 0.12;
// Two readings whose residuals differ by less than this cannot be told apart by marks measured with callipers.
constexpr double kAlike_mm = 0.15;
// How much farther up (cosine) the better of two readings must point: 15 degrees off the level between them.
constexpr double kClearlyUp = 0.5;

using Pairs = std::vector<std::pair<std::size_t, std::size_t>>;
using Quad = std::array<std::size_t, kFewestMatched>;

struct Scale {
  double least = 0.0;
  double most = 0.0;  // px per mm
};

double cross(const Vector2d& a, const Vector2d& b) { return a.x() * b.y() - a.y() * b.x(); }

// Twice the area of the largest triangle less thin than this share of its longest side squared counts as turning.
double turning(const Vector2d& a, const Vector2d& b, const Vector2d& c) {
  const double longest = std::max({(a - b).norm(), (b - c).norm(), (c - a).norm()});
  const double area = cross(b - a, c - a);
  return std::abs(area) < 0.08 * longest * longest ? 0.0 : area;
}

double smallest_triangle(const std::vector<Vector3d>& plan, const Quad& q) {
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t skip = 0; skip < kFewestMatched; ++skip) {
    std::array<Vector2d, 3> p;
    std::size_t n = 0;
    for (std::size_t k = 0; k < kFewestMatched; ++k)
      if (k != skip) p[n++] = plan[q[k]].head<2>();
    least = std::min(least, std::abs(cross(p[1] - p[0], p[2] - p[0])));
  }
  return least;
}

// Fours without three in a line, the widest first.
std::vector<Quad> quads_of(const std::vector<Vector3d>& plan) {
  std::vector<std::pair<double, Quad>> ranked;
  const std::size_t n = std::min<std::size_t>(plan.size(), 24);
  double reach = 1.0;
  for (const auto& a : plan) reach = std::max(reach, (a - plan.front()).head<2>().norm());
  for (std::size_t a = 0; a < n; ++a)
    for (std::size_t b = a + 1; b < n; ++b)
      for (std::size_t c = b + 1; c < n; ++c)
        for (std::size_t d = c + 1; d < n; ++d) {
          const Quad quad{a, b, c, d};
          const double size = smallest_triangle(plan, quad);
          if (size > 1e-3 * reach * reach) ranked.emplace_back(size, quad);
        }
  std::stable_sort(ranked.begin(), ranked.end(), [](const auto& x, const auto& y) { return x.first > y.first; });
  std::vector<Quad> quads;
  // not only the widest: each mark must have its turn, for any may be hidden
  const std::size_t step = std::max<std::size_t>(1, ranked.size() / kMaxQuads);
  for (std::size_t i = 0; i < ranked.size(); i += step) quads.push_back(ranked[i].second);
  return quads;
}

class Matcher {
 public:
  Matcher(const Lens& lens, const std::vector<Vector3d>& plan, double field_mm, const std::vector<SightedMark>& sighted)
      : lens_(lens), plan_(plan), field_mm_(field_mm), sighted_(sighted) {
    for (const SightedMark& mark : sighted) {
      const Vector2d values = singular_values(mark.px_from_field);
      scales_.push_back({values[1] / field_mm, values[0] / field_mm});
    }
  }

  std::vector<MarkMatch> all_matches() {
    for (const Quad& quad : quads_of(plan_)) {
      extend(quad, {});
      // A four that is in the photo has been laid on every four there: what else the marks may be has been seen, too.
      const bool whole = std::any_of(matches_.begin(), matches_.end(), [&](const MarkMatch& match) {
        return match.pairs.size() == plan_.size() ||
               (match.pairs.size() >= 6 && 4 * match.pairs.size() >= 3 * plan_.size());
      });
      if (whole) break;
    }
    return matches_;
  }

 private:
  bool allows(const Quad& quad, const std::vector<std::size_t>& chosen, std::size_t next) const {
    const std::size_t k = chosen.size();
    const Vector2d here = plan_[quad[k]].head<2>();
    const Vector2d seen = sighted_[next].px;
    for (std::size_t i = 0; i < k; ++i) {
      if (chosen[i] == next) return false;
      const double scale = (sighted_[chosen[i]].px - seen).norm() / (plan_[quad[i]].head<2>() - here).norm();
      const Scale& one = scales_[chosen[i]];
      const Scale& other = scales_[next];
      if (scale * kScaleSlack < std::min(one.least, other.least)) return false;
      if (scale > kScaleSlack * std::max(one.most, other.most)) return false;
      for (std::size_t j = 0; j < i; ++j) {
        const double plan_turn = turning(plan_[quad[j]].head<2>(), plan_[quad[i]].head<2>(), here);
        // the picture's y runs down: seen from above, the sense of turning is reversed there
        if (plan_turn * cross(sighted_[chosen[i]].px - sighted_[chosen[j]].px, seen - sighted_[chosen[j]].px) > 0.0)
          return false;
      }
    }
    return true;
  }

  void extend(const Quad& quad, std::vector<std::size_t> chosen) {
    if (chosen.size() == kFewestMatched) {
      judge(quad, chosen);
      return;
    }
    for (std::size_t next = 0; next < sighted_.size(); ++next) {
      if (!allows(quad, chosen, next)) continue;
      chosen.push_back(next);
      extend(quad, chosen);
      chosen.pop_back();
    }
  }

  bool is_known(const Quad& quad, const std::vector<std::size_t>& chosen) const {
    return std::any_of(matches_.begin(), matches_.end(), [&](const MarkMatch& match) {
      for (std::size_t k = 0; k < kFewestMatched; ++k) {
        const std::pair<std::size_t, std::size_t> pair(quad[k], chosen[k]);
        if (std::find(match.pairs.begin(), match.pairs.end(), pair) == match.pairs.end()) return false;
      }
      return true;
    });
  }

  // The marks that a pose explains: each plan's mark with the nearest sighted one, if near enough and wanted by no
  // other.
  Pairs explained(const Rigid& camera_from_plan, double near) const {
    Pairs pairs;
    std::vector<char> taken(sighted_.size(), 0);
    for (std::size_t p = 0; p < plan_.size(); ++p) {
      const Vector3d point = camera_from_plan * plan_[p];
      const auto px = project(lens_, point);
      if (!px) continue;
      std::size_t best = sighted_.size();
      double least = std::numeric_limits<double>::infinity();
      for (std::size_t s = 0; s < sighted_.size(); ++s) {
        const double off = (sighted_[s].px - *px).norm();
        const double field_px = std::sqrt(std::abs(sighted_[s].px_from_field.determinant()));
        if (off < near * field_px && off < least) {
          least = off;
          best = s;
        }
      }
      if (best == sighted_.size() || taken[best] != 0) continue;
      taken[best] = 1;
      pairs.emplace_back(p, best);
    }
    return pairs;
  }

  std::vector<SeenPoint> points_of(const Pairs& pairs) const {
    std::vector<SeenPoint> points;
    for (const auto& [p, s] : pairs) points.push_back({plan_[p], sighted_[s].px, 1.0});
    return points;
  }

  std::optional<Rigid> first_pose(const Quad& quad, const std::vector<std::size_t>& chosen) const {
    Pairs pairs;
    for (std::size_t k = 0; k < kFewestMatched; ++k) pairs.emplace_back(quad[k], chosen[k]);
    std::vector<SeenPoint> points = points_of(pairs);
    double height = 0.0;
    for (const SeenPoint& p : points) height += p.mm.z() / static_cast<double>(kFewestMatched);
    for (SeenPoint& p : points) p.mm.z() = 0.0;
    const auto pose = plane_pose_from_rays(lens_, points);
    if (!pose) return std::nullopt;
    Rigid result = *pose;
    result.translation -= result.rotation.col(2) * height;
    return result;
  }

  // The marks' own size against the one that the pose gives them: marks laid out alike, but wider, are others.
  bool in_size(const Pairs& pairs, const Rigid& camera_from_plan) const {
    double sum = 0.0;
    for (const auto& [p, s] : pairs) {
      const auto middle = project(lens_, camera_from_plan * plan_[p]);
      const auto right = project(lens_, camera_from_plan * (plan_[p] + field_mm_ * Vector3d::UnitX()));
      const auto away = project(lens_, camera_from_plan * (plan_[p] + field_mm_ * Vector3d::UnitY()));
      if (!middle || !right || !away) return false;
      sum +=
          0.5 * std::log(std::abs(sighted_[s].px_from_field.determinant() / cross(*right - *middle, *away - *middle)));
    }
    return std::abs(sum / static_cast<double>(pairs.size())) < kSizeSlack;
  }

  void judge(const Quad& quad, const std::vector<std::size_t>& chosen) {
    if (is_known(quad, chosen)) return;
    const auto first = first_pose(quad, chosen);
    if (!first) return;
    Pairs pairs = explained(*first, kNearFirst);
    if (pairs.size() < kFewestMatched) return;
    auto pose = refine_pose(lens_, points_of(pairs), *first, 0.0, 30);
    if (!pose) return;
    pairs = explained(pose->camera_from_body, kNearRefined);
    if (pairs.size() < kFewestMatched) return;
    pose = refine_pose(lens_, points_of(pairs), pose->camera_from_body, 0.0, 30);
    if (!pose) return;
    if (!in_size(pairs, pose->camera_from_body)) return;
    const double camera_height = pose->camera_from_body.inverse().translation.z();
    if (!(camera_height > 0.0)) return;
    const bool known =
        std::any_of(matches_.begin(), matches_.end(), [&](const MarkMatch& m) { return m.pairs == pairs; });
    if (!known) matches_.push_back({pairs, pose->camera_from_body, pose->rms_px});
  }

  const Lens& lens_;
  const std::vector<Vector3d>& plan_;
  double field_mm_;
  const std::vector<SightedMark>& sighted_;
  std::vector<Scale> scales_;
  std::vector<MarkMatch> matches_;
};

// Direction of the plan's +X or +Y at the marks' middle, in the picture.
std::optional<Vector2d> seen_direction(const Lens& lens, const MarkMatch& match, const Vector3d& at_mm,
                                       const Vector3d& step) {
  const auto from = project(lens, match.camera_from_plan * at_mm);
  const auto to = project(lens, match.camera_from_plan * (at_mm + step));
  if (!from || !to) return std::nullopt;
  return (*to - *from).normalized();
}

// How many marks stand upright on the plan: turned by less than 30 degrees, half turns aside.
int upright_marks(const Lens& lens, const std::vector<Vector3d>& plan, const std::vector<SightedMark>& sighted,
                  const MarkMatch& match) {
  constexpr double kUpright = 0.866;  // cosine
  int count = 0;
  for (const auto& [p, s] : match.pairs) {
    const auto right = seen_direction(lens, match, plan[p], Vector3d::UnitX());
    if (right && std::abs(right->dot(sighted[s].px_from_field.col(0).normalized())) > kUpright) ++count;
  }
  return count;
}

Vector3d towards(PhotoTop top) {
  switch (top) {
    case PhotoTop::back:
      return Vector3d::UnitY();
    case PhotoTop::front:
      return -Vector3d::UnitY();
    case PhotoTop::left:
      return -Vector3d::UnitX();
    case PhotoTop::right:
      break;
  }
  return Vector3d::UnitX();
}

// Cosine between that side of the plan and upwards in the photo.
double upwards(const Lens& lens, const std::vector<Vector3d>& plan, const MarkMatch& match, PhotoTop top) {
  Vector3d middle = Vector3d::Zero();
  for (const auto& pair : match.pairs) middle += plan[pair.first] / static_cast<double>(match.pairs.size());
  const auto up = seen_direction(lens, match, middle, towards(top));
  return up ? -up->y() : 0.0;
}

// Alike but for a shift of the pattern: the side at the top is not what they differ in.
bool same_way_up(const Lens& lens, const std::vector<Vector3d>& plan, const std::vector<MarkMatch>& matches) {
  for (const MarkMatch& match : matches)
    if (upwards(lens, plan, match, PhotoTop::back) * upwards(lens, plan, matches.front(), PhotoTop::back) +
            upwards(lens, plan, match, PhotoTop::right) * upwards(lens, plan, matches.front(), PhotoTop::right) <
        0.9)
      return false;
  return true;
}

double px_per_mm(const std::vector<SightedMark>& sighted, const MarkMatch& match, double field_mm) {
  double sum = 0.0;
  for (const auto& pair : match.pairs) sum += std::sqrt(std::abs(sighted[pair.second].px_from_field.determinant()));
  return sum / static_cast<double>(match.pairs.size()) / field_mm;
}

template <class Worth>
void keep_best(std::vector<MarkMatch>& matches, const Worth& worth, double slack) {
  double best = -std::numeric_limits<double>::infinity();
  for (const MarkMatch& m : matches) best = std::max(best, worth(m));
  std::erase_if(matches, [&](const MarkMatch& m) { return worth(m) < best - slack; });
}

}  // namespace

bool hold_a_pose(const std::vector<Vector3d>& plan_mm) { return !quads_of(plan_mm).empty(); }

Outcome<MarkMatch> match_marks(const Lens& lens, const std::vector<Vector3d>& plan_mm, double field_mm,
                               const std::vector<SightedMark>& sighted, std::optional<PhotoTop> top) {
  if (plan_mm.size() < kFewestMatched)
    return Failure{std::to_string(plan_mm.size()) + " marks are declared, at least 4 are needed"};
  if (sighted.size() < kFewestMatched)
    return Failure{"only " + std::to_string(sighted.size()) +
                   " marks are to be seen in the photo, at least 4 are needed"};
  if (!hold_a_pose(plan_mm)) return Failure{"no four marks are declared of which no three lie in one line"};
  std::vector<MarkMatch> matches = Matcher(lens, plan_mm, field_mm, sighted).all_matches();
  if (matches.empty())
    return Failure{std::to_string(sighted.size()) +
                   " marks are to be seen, but no four of them lie to each other as any four of the " +
                   std::to_string(plan_mm.size()) +
                   " declared ones: these are for another sheet, fixture or bed, or for another field size"};
  keep_best(
      matches, [](const MarkMatch& m) { return static_cast<double>(m.pairs.size()); }, 0.0);
  // Worse by more than the marks' places are ever off: not the same marks.
  const double alike_px = kAlike_mm * px_per_mm(sighted, matches.front(), field_mm);
  keep_best(
      matches, [](const MarkMatch& m) { return -m.rms_px; }, alike_px);
  if (matches.size() > 1)
    keep_best(
        matches, [&](const MarkMatch& m) { return static_cast<double>(upright_marks(lens, plan_mm, sighted, m)); },
        0.0);
  if (matches.size() > 1 && top)
    keep_best(
        matches, [&](const MarkMatch& m) { return upwards(lens, plan_mm, m, *top); }, kClearlyUp);
  if (matches.size() > 1 && same_way_up(lens, plan_mm, matches))
    return Failure{
        "the " + std::to_string(matches.front().pairs.size()) +
        " marks to be seen fit the declared pattern in several places: more of it must be in the picture, or "
        "it is for another sheet or bed"};
  if (matches.size() > 1 && top)
    return Failure{
        "the marks look the same from several sides, and the side told lies neither at the photo's top nor "
        "at its bottom"};
  if (matches.size() > 1)
    return Failure{"the marks look the same from several sides, so which side is at the top of the photo must be told"};
  return matches.front();
}

}  // namespace jigtrue
