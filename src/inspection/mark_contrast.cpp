#include "inspection/mark_contrast.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <vector>

#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

// Contrast is told in the ink's middle, where the lens mixes in least of the bare ground, and by plain means: a
// camera's sharpening makes edges darker than they are, and whitening looks at edges most.
MarkPiece piece_between(double from_mm, double to_mm, const MatchedPicture& found, float least) {
  const auto& [on, drawing, pose, pattern, sharp, relative, texture] = found;
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

// Mean of the light over its line's usual, where both are to be seen, in stretches of `kBlock_mm` along the blank.
struct Blocks {
  std::vector<double> means;
  [[nodiscard]] double mean() const { return std::accumulate(means.begin(), means.end(), 0.0) / count(); }
  [[nodiscard]] double count() const { return static_cast<double>(means.size()); }
  [[nodiscard]] double variance() const {
    const double middle = mean();
    double square = 0.0;
    for (const double each : means) square += (each - middle) * (each - middle);
    return square / (count() - 1.0);
  }
};

std::vector<double> usual_of_lines(const cv::Mat1f& light, const cv::Mat1b& where) {
  std::vector<double> usual;
  usual.reserve(static_cast<std::size_t>(light.rows));
  for (int row = 0; row < light.rows; ++row) usual.push_back(mean_where(light.row(row), where.row(row)));
  return usual;
}

Blocks blocks_of(const Unrolled& on, const cv::Mat1b& where, const std::vector<double>& usual) {
  constexpr double kBlock_mm = 4.0;
  const int wide = std::max(1, static_cast<int>(kBlock_mm / on.pitch_mm));
  Blocks out;
  for (int left = 0; left < where.cols; left += wide) {
    double sum = 0.0;
    int count = 0;
    for (int row = 0; row < where.rows; ++row) {
      const double line = usual[static_cast<std::size_t>(row)];
      for (int column = left; column < std::min(left + wide, where.cols); ++column) {
        if (where(row, column) == 0 || line <= 0.0) continue;
        sum += static_cast<double>(on.light(row, column)) / line;
        ++count;
      }
    }
    if (count > wide * 4) out.means.push_back(sum / count);
  }
  return out;
}

// Smoke settles some millimetres around what burns. How far light varies along the blank where there is none says how
// sure that is.
void tell_smoke(const MatchedPicture& found, MarkMatch& match) {
  const double pitch_mm = found.on.pitch_mm;
  const cv::Mat1b near = widened(found.pattern, 2.5, pitch_mm) & ~widened(found.pattern, 0.4, pitch_mm) & found.on.seen;
  const cv::Mat1b far = ~widened(found.pattern, 4.0, pitch_mm) & found.on.seen;
  const std::vector<double> usual = usual_of_lines(found.on.light, far);
  const Blocks there = blocks_of(found.on, far, usual);
  const Blocks here = blocks_of(found.on, near, usual);
  constexpr std::size_t kFewest = 4;
  if (there.means.size() < kFewest || here.means.empty()) return;
  match.smoke = 1.0 - here.mean() / there.mean();
  match.smoke_sigma = std::sqrt(there.variance() * (1.0 / there.count() + 1.0 / here.count()));
}

}  // namespace

std::vector<double> even_bounds(const InkRaster& ink, std::size_t parts) {
  std::vector<double> ink_at(static_cast<std::size_t>(ink.coverage.cols));
  for (int column = 0; column < ink.coverage.cols; ++column)
    ink_at[static_cast<std::size_t>(column)] = cv::sum(ink.coverage.col(column))[0];
  const double total = std::accumulate(ink_at.begin(), ink_at.end(), 0.0);
  std::vector<double> bounds = {ink.ink.low.x() - kRim_mm};
  double sum = 0.0;
  for (std::size_t column = 0; column < ink_at.size(); ++column) {
    sum += ink_at[column];
    if (sum >= total * static_cast<double>(bounds.size()) / static_cast<double>(parts) && bounds.size() < parts)
      bounds.push_back(ink.low_mm.x() + ink.pitch_mm * static_cast<double>(column));
  }
  bounds.push_back(ink.ink.high.x() + kRim_mm);
  return bounds;
}

double mean_where(const cv::Mat1f& picture, const cv::Mat1b& where) {
  return cv::countNonZero(where) > 0 ? cv::mean(picture, where)[0] : 0.0;
}

void tell_contrast(const MatchedPicture& found, MarkMatch& match) {
  tell_smoke(found, match);
  const float core = core_coverage(found.pattern);
  match.contrast = piece_between(-1e6, 1e6, found, core).contrast;
  const std::vector<double> bounds = even_bounds(found.ink, kMarkParts);
  for (std::size_t k = 0; k + 1 < bounds.size(); ++k)
    if (const MarkPiece piece = piece_between(bounds[k], bounds[k + 1], found, core); piece.sigma > 0.0)
      match.pieces.push_back(piece);
  const double pitch_mm = found.on.pitch_mm;
  const cv::Mat1b rim = widened(found.sharp, 1.0, pitch_mm) & ~widened(found.sharp, 0.45, pitch_mm) & found.on.seen;
  match.halo = -mean_where(found.relative, rim);
  const int count = cv::countNonZero(rim);
  match.halo_sigma = count > 0 ? std::sqrt(std::max(found.texture.variance_of_sum(weight_of(rim)), 0.0)) / count : 0.0;
}

}  // namespace jigtrue
