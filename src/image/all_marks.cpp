#include "jigtrue/image/all_marks.hpp"

#include "jigtrue/image/mark.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "image/saddle.hpp"
#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kSmallestFieldPx = 6.0;      // the smallest that a ring of kMarkRingPx still reads
constexpr double kMarkRingPx = 3.5;           // as the board's finder's
constexpr double kLargestFieldPx = 400.0;     // larger than any mark that is seen with others
constexpr std::size_t kMaxMarkSaddles = 400;  // a copy: marks are among the strongest corners of a bed
constexpr double kOpposite = 0.3;  // how unlike the reaches of opposite edges may be, perspective and dirt allowed

double grey_in_copy(const cv::Mat1b& luma, const Vector2d& p) {
  const int x = std::clamp(static_cast<int>(std::lround(p.x())), 0, luma.cols - 1);
  const int y = std::clamp(static_cast<int>(std::lround(p.y())), 0, luma.rows - 1);
  return luma(y, x);
}

bool inside(const cv::Mat1b& luma, const Vector2d& p) {
  return p.x() >= 0.0 && p.y() >= 0.0 && p.x() <= luma.cols - 1.0 && p.y() <= luma.rows - 1.0;
}

// How far the edge along `ray` keeps its two colours apart, px of the photo. after: +1 when the side towards `beside`
// is bright.
double reach_of_edge(const cv::Mat1b& luma, const Vector2d& centre, const Vector2d& ray, const Vector2d& beside,
                     int after, double contrast, double from_px) {
  constexpr double kBeside =
      0.3;  // of the distance walked: inside the fields, and clear of a ray a little off the edge
  double reach = from_px;
  int failures = 0;
  for (double t = from_px; t < kLargestFieldPx; t += std::max(0.5, 0.04 * t)) {
    const Vector2d bright_side = centre + t * (ray + kBeside * after * beside);
    const Vector2d dark_side = centre + t * (ray - kBeside * after * beside);
    if (!inside(luma, bright_side) || !inside(luma, dark_side)) break;
    if (grey_in_copy(luma, bright_side) - grey_in_copy(luma, dark_side) > contrast) {
      reach = t;
      failures = 0;
    } else if (++failures == 3) {
      break;
    }
  }
  return reach;
}

// The mark's size and directions, from its four edges; nothing when they do not belong to one square.
std::optional<Matrix2d> measure_fields(const cv::Mat1b& luma, const Vector2d& centre, const Saddle& saddle,
                                       double from_px) {
  std::array<double, 4> reach{};
  std::array<Vector2d, 4> ray;
  for (std::size_t k = 0; k < 4; ++k) ray[k] = unit_vector(saddle.ray_rad[k]);
  for (std::size_t k = 0; k < 4; ++k)
    reach[k] = reach_of_edge(luma, centre, ray[k], ray[(k + 1) % 4], saddle.after[k], saddle.contrast, from_px);
  for (std::size_t k = 0; k < 2; ++k)
    if (std::abs(reach[k] - reach[k + 2]) > kOpposite * std::max(reach[k], reach[k + 2])) return std::nullopt;
  const Vector2d a = 0.5 * (ray[0] * reach[0] - ray[2] * reach[2]);
  const Vector2d b = 0.5 * (ray[1] * reach[1] - ray[3] * reach[3]);
  const double ratio = a.norm() / b.norm();
  constexpr double kLongest = 2.5;  // a mark seen at 66 degrees from above
  if (ratio > kLongest || ratio < 1.0 / kLongest) return std::nullopt;
  Matrix2d fields;
  fields << a, -b;  // rays ascend clockwise as seen: the mark's up is the one that goes before
  return fields;
}

std::optional<SightedMark> confirm(const cv::Mat1b& luma, const Vector2d& px, const Matrix2d& fields, int factor) {
  MarkPrediction prediction;
  prediction.centre_px = px;
  prediction.field_mm = 1.0;
  prediction.px_from_mm = fields;
  prediction.search_px = 1.5 * factor + 2.0;
  const auto mark = find_mark(luma, prediction);
  if (!mark) return std::nullopt;
  SightedMark sighted;
  sighted.px = mark->px;
  sighted.sigma_px = mark->sigma_px;
  sighted.px_from_field = fields * Eigen::Rotation2Dd(rad_from_deg(mark->turn_deg)).toRotationMatrix();
  return sighted;
}

void find_in_copy(const cv::Mat1b& luma, int factor, std::size_t max_count, std::vector<SightedMark>& marks) {
  cv::Mat1b copy = luma;
  if (factor > 1) {
    const cv::Rect whole(0, 0, luma.cols / factor * factor, luma.rows / factor * factor);
    cv::resize(luma(whole), copy, cv::Size(luma.cols / factor, luma.rows / factor), 0.0, 0.0, cv::INTER_AREA);
  }
  if (copy.cols < 16 || copy.rows < 16) return;
  for (const Saddle& saddle : find_saddles(copy, kMarkRingPx, kMaxMarkSaddles)) {
    if (marks.size() >= max_count) return;
    const Vector2d px = ((saddle.px.array() + 0.5) * factor - 0.5).matrix();
    const bool known = std::any_of(marks.begin(), marks.end(),
                                   [&](const SightedMark& m) { return (m.px - px).norm() < 3.0 * factor; });
    if (known) continue;
    const auto fields = measure_fields(luma, px, saddle, kMarkRingPx * factor);
    if (!fields) continue;
    if (auto mark = confirm(luma, px, *fields, factor)) marks.push_back(*mark);
  }
}

}  // namespace

std::vector<SightedMark> find_all_marks(const cv::Mat1b& luma, double smallest_field_px, std::size_t max_count) {
  std::vector<SightedMark> marks;
  if (luma.empty()) return marks;
  int factor = 1;
  while (smallest_field_px >= 2.0 * factor * kSmallestFieldPx) factor *= 2;
  // Coarse to fine: what is large is found where a bed's fine patterns are smoothed away.
  for (int f = 4 * factor; f >= factor; f /= 2) find_in_copy(luma, f, max_count, marks);
  return marks;
}

}  // namespace jigtrue
