#include "inspection/mark_contrast.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <vector>

#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

// Bounds along the drawing that share its ink evenly.
std::vector<double> even_bounds(const InkRaster& ink, std::size_t pieces) {
  std::vector<double> ink_at(static_cast<std::size_t>(ink.coverage.cols));
  for (int column = 0; column < ink.coverage.cols; ++column)
    ink_at[static_cast<std::size_t>(column)] = cv::sum(ink.coverage.col(column))[0];
  const double total = std::accumulate(ink_at.begin(), ink_at.end(), 0.0);
  std::vector<double> bounds = {ink.ink.low.x() - kRim_mm};
  double sum = 0.0;
  for (std::size_t column = 0; column < ink_at.size(); ++column) {
    sum += ink_at[column];
    if (sum >= total * static_cast<double>(bounds.size()) / static_cast<double>(pieces) && bounds.size() < pieces)
      bounds.push_back(ink.low_mm.x() + ink.pitch_mm * static_cast<double>(column));
  }
  bounds.push_back(ink.ink.high.x() + kRim_mm);
  return bounds;
}

// Contrast is told in the ink's middle, where the lens mixes in least of the bare ground, and by plain means: a
// camera's sharpening makes edges darker than they are, and whitening looks at edges most.
MarkPiece piece_between(double from_mm, double to_mm, const MatchedPicture& found, float least) {
  const auto& [on, drawing, pose, pattern, relative, texture] = found;
  const double c = std::cos(pose.turn_rad);
  const double s = std::sin(pose.turn_rad);
  cv::Mat1f core = cv::Mat1f::zeros(pattern.size());
  double sum = 0.0;
  double ink = 0.0;
  double count = 0.0;
  for (int row = 0; row < pattern.rows; ++row)
    for (int column = 0; column < pattern.cols; ++column) {
      if (pattern(row, column) < least || on.seen(row, column) == 0) continue;
      const Vector2d d = on.uv(column, row) - pose.uv_mm;
      const double u = c * d.x() + s * d.y();
      if (u < from_mm || u >= to_mm) continue;
      core(row, column) = 1.0F;
      sum += static_cast<double>(relative(row, column));
      ink += static_cast<double>(pattern(row, column));
      count += 1.0;
    }
  if (count < 4.0) return {from_mm, to_mm, 0.0, 0.0};
  return {from_mm, to_mm, -sum / ink, std::sqrt(std::max(texture.variance_of_sum(core), 0.0)) / ink};
}

// Coverage that only the ink's middle has: the upper fifth of what the drawing, blurred, comes to.
float core_coverage(const cv::Mat1f& pattern) {
  std::vector<float> values;
  for (int row = 0; row < pattern.rows; ++row)
    for (int column = 0; column < pattern.cols; ++column)
      if (pattern(row, column) > 0.2F) values.push_back(pattern(row, column));
  if (values.empty()) return 1.0F;
  const auto at = values.begin() + static_cast<std::ptrdiff_t>(values.size() * 7 / 10);
  std::nth_element(values.begin(), at, values.end());
  return std::min(*at, 0.97F);
}

}  // namespace

double mean_where(const cv::Mat1f& picture, const cv::Mat1b& where) {
  return cv::countNonZero(where) > 0 ? cv::mean(picture, where)[0] : 0.0;
}

void tell_contrast(const MatchedPicture& found, MarkMatch& match) {
  const float core = core_coverage(found.pattern);
  match.contrast = piece_between(-1e6, 1e6, found, core).contrast;
  const std::vector<double> bounds = even_bounds(found.ink, 8);
  for (std::size_t k = 0; k + 1 < bounds.size(); ++k)
    if (const MarkPiece piece = piece_between(bounds[k], bounds[k + 1], found, core); piece.sigma > 0.0)
      match.pieces.push_back(piece);
  const double pitch_mm = found.on.pitch_mm;
  const cv::Mat1b rim = widened(found.pattern, 0.6, pitch_mm) & ~widened(found.pattern, 0.25, pitch_mm) & found.on.seen;
  match.halo = -mean_where(found.relative, rim);
}

}  // namespace jigtrue
