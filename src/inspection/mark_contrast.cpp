#include "inspection/mark_contrast.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <optional>
#include <vector>

#include "inspection/bare_ground.hpp"
#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

// A drawing where it is looked at: the mark itself, or a place that is bare.
struct LaidDrawing {
  const Unrolled& on;
  MarkPose pose;
  cv::Mat1f pattern;
  cv::Mat1f relative;
  cv::Mat1b where;  // what counts
};

struct Reading {
  cv::Mat1f core;
  double light = 0.0;
  double ink = 0.0;
  double px = 0.0;

  [[nodiscard]] double contrast() const { return ink > 0.0 ? -light / ink : 0.0; }
};

// Contrast is told in the ink's middle, where the lens mixes in least of the bare ground, and by plain means: a
// camera's sharpening makes edges darker than they are, and whitening looks at edges most.
Reading reading_between(double from_mm, double to_mm, const LaidDrawing& there, float least) {
  const double c = std::cos(there.pose.turn_rad);
  const double s = std::sin(there.pose.turn_rad);
  Reading out;
  out.core = cv::Mat1f::zeros(there.pattern.size());
  for (int row = 0; row < there.pattern.rows; ++row)
    for (int column = 0; column < there.pattern.cols; ++column) {
      const float coverage = there.pattern(row, column);
      if (coverage < least || there.where(row, column) == 0) continue;
      const Vector2d d = there.on.uv(column, row) - there.pose.uv_mm;
      const double u = c * d.x() + s * d.y();
      if (u < from_mm || u >= to_mm) continue;
      out.core(row, column) = 1.0F;
      out.light += static_cast<double>(there.relative(row, column));
      out.ink += static_cast<double>(coverage);
      out.px += 1.0;
    }
  return out;
}

constexpr double kEverywhere_mm = 1e6;  // farther than any blank reaches
constexpr double kFewest_px = 4.0;      // of ink, for a contrast

// What the texture alone does to a reading.
double texture_sigma(const Reading& reading, const Texture& texture) {
  return std::sqrt(std::max(texture.variance_of_sum(reading.core), 0.0)) / std::max(reading.ink, 1e-9);
}

// What grain and light, farther than the texture's own reach, do to a contrast, and to a piece's beside the whole's:
// the same readings where there is no mark, the ground under them guessed anew from what is left bare. Roots of mean
// squares; zero where too few places are bare.
struct ScatterElsewhere {
  double whole = 0.0;
  double piece = 0.0;
};
ScatterElsewhere scatter_elsewhere(const MatchedPicture& found, const std::vector<double>& bounds, float least) {
  constexpr double kFewest = 6.0;     // readings elsewhere, for their scatter
  constexpr double kLeastBare = 0.5;  // of such a reading's ground
  const Vector2d stride = (found.ink.ink.size() / 2.0).cwiseMax(Vector2d(2.0, 1.0));
  const double core_px =
      std::max(1.0, static_cast<double>(cv::countNonZero(found.pattern >= static_cast<double>(least))));
  ScatterElsewhere square;
  ScatterElsewhere count;
  for (int j = -2; j <= 2; ++j)
    for (int i = -3; i <= 3; ++i) {
      LaidDrawing there{found.on, found.pose, {}, {}, found.bare};
      there.pose.uv_mm += Vector2d(i * stride.x(), j * stride.y());
      there.pattern = laid(found.on, found.ink, there.pose);
      const double share = cv::countNonZero((there.pattern >= static_cast<double>(least)) & found.bare) / core_px;
      if (share < kLeastBare) continue;
      there.relative =
          relative_light(found.on, weight_of(found.bare & ~widened(there.pattern, 0.5, found.on.pitch_mm)));
      const double whole = reading_between(-kEverywhere_mm, kEverywhere_mm, there, least).contrast();
      square.whole += share * whole * whole;
      count.whole += 1.0;
      for (std::size_t k = 0; k + 1 < bounds.size(); ++k) {
        const Reading piece = reading_between(bounds[k], bounds[k + 1], there, least);
        if (piece.px < kFewest_px) continue;
        square.piece += std::pow(piece.contrast() - whole, 2);
        count.piece += 1.0;
      }
    }
  if (count.whole < kFewest) return {};
  return {std::sqrt(square.whole / count.whole), std::sqrt(square.piece / std::max(count.piece, 1.0))};
}

// Of a contrast: what it would be less were the drawing a standard deviation wider; relative.
double share_by_width(const MatchedPicture& found, float least) {
  const cv::Mat1b core = (found.pattern >= static_cast<double>(least)) & found.on.seen;
  double square = 0.0;
  for (const cv::Mat1f& wider : found.wider)
    square += std::pow(mean_where(wider, core) / std::max(mean_where(found.pattern, core), 1e-6) - 1.0, 2);
  return std::sqrt(square);
}

// Cameras keep sRGB's curve by and large: its exponent to within some hundredths (common practice, no source).
double sigma_by_curve(double contrast) {
  constexpr double kExponent = 0.02;  // 1 sigma, see above
  const double ratio = std::max(1.0 - contrast, 1e-3);
  return kExponent * std::abs(ratio * std::log(ratio));
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
  constexpr double kBlock_mm = 4.0;  // a piece whose darkness is told by itself
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
void tell_smoke(const MatchedPicture& found, FoundMark& match) {
  const double pitch_mm = found.on.pitch_mm;
  const cv::Mat1b near = widened(found.pattern, 2.5, pitch_mm) & ~widened(found.pattern, 0.4, pitch_mm) & found.on.seen;
  const cv::Mat1b far = ~widened(found.pattern, 4.0, pitch_mm) & found.on.seen;
  const std::vector<double> usual = usual_of_lines(found.on.light, far);
  const Blocks there = blocks_of(found.on, far, usual);
  const Blocks here = blocks_of(found.on, near, usual);
  constexpr std::size_t kFewest = 4;  // blocks elsewhere, for their scatter
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

void tell_contrast(const MatchedPicture& found, FoundMark& match) {
  tell_smoke(found, match);
  const float core = core_coverage(found.pattern);
  const std::vector<double> bounds = even_bounds(found.ink, kMarkParts);
  const ScatterElsewhere elsewhere = scatter_elsewhere(found, bounds, core);
  const LaidDrawing here{found.on, found.pose, found.pattern, found.relative, found.on.seen};
  const Reading whole = reading_between(-kEverywhere_mm, kEverywhere_mm, here, core);
  match.contrast = whole.contrast();
  match.contrast_sigma =
      Vector3d(
          // what is wrong with the ground counts as often as the mark is brighter than it
          std::max(texture_sigma(whole, found.texture), elsewhere.whole) * std::max(1.0, 1.0 - match.contrast),
          match.contrast * share_by_width(found, core), sigma_by_curve(match.contrast))
          .norm();
  for (std::size_t k = 0; k + 1 < bounds.size(); ++k) {
    const Reading piece = reading_between(bounds[k], bounds[k + 1], here, core);
    if (piece.px < kFewest_px) continue;
    match.pieces.push_back(
        {bounds[k], bounds[k + 1], piece.contrast(), std::max(texture_sigma(piece, found.texture), elsewhere.piece)});
  }
  const double pitch_mm = found.on.pitch_mm;
  const cv::Mat1b rim = widened(found.sharp, 1.0, pitch_mm) & ~widened(found.sharp, 0.45, pitch_mm) & found.on.seen;
  match.halo = -mean_where(found.relative, rim);
  const int count = cv::countNonZero(rim);
  match.halo_sigma = count > 0 ? std::sqrt(std::max(found.texture.variance_of_sum(weight_of(rim)), 0.0)) / count : 0.0;
}

}  // namespace jigtrue
