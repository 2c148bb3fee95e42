#include "image/saddle.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kSmoothPx = 1.0;  // against noise: a corner's blur is as wide
constexpr float kMinStrength =
    3.0F;  // grey levels^2 / px^4: a corner of contrast 20 blurred by 2 px has 6, noise below 1
constexpr double kMinSaddleContrast = 5.0;  // half difference, grey levels
constexpr int kRing = 32;                   // samples round a saddle: 11 degrees apart

double bilinear(const cv::Mat1f& image, double x, double y) {
  const int left = static_cast<int>(x);
  const int top = static_cast<int>(y);
  const auto fx = static_cast<float>(x - left);
  const auto fy = static_cast<float>(y - top);
  const float* a = image.ptr<float>(top) + left;
  const float* b = image.ptr<float>(top + 1) + left;
  const float upper = a[0] + fx * (a[1] - a[0]);
  const float lower = b[0] + fx * (b[1] - b[0]);
  return static_cast<double>(upper + fy * (lower - upper));
}

// Ixy^2 - Ixx Iyy: positive at saddles, the same in every direction. A line at a time, so that several pixels go at
// once.
cv::Mat1f saddle_strength(const cv::Mat1f& smooth) {
  cv::Mat1f strength(smooth.size(), 0.0F);
  const Eigen::Index inner = smooth.cols - 2;
  if (inner < 1) return strength;
  using Line = Eigen::Map<const Eigen::ArrayXf>;
  for (int y = 1; y + 1 < smooth.rows; ++y) {
    const auto at = [&](int row, int shift) { return Line(smooth.ptr<float>(y + row) + 1 + shift, inner); };
    const auto xx = at(0, -1) - 2.0F * at(0, 0) + at(0, 1);
    const auto yy = at(-1, 0) - 2.0F * at(0, 0) + at(1, 0);
    const auto xy = 0.25F * (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1));
    Eigen::Map<Eigen::ArrayXf>(strength.ptr<float>(y) + 1, inner) = xy.square() - xx * yy;
  }
  return strength;
}

// Top of the parabola through three neighbouring values, within half a step.
double peak_shift(float before, float here, float after) {
  const double bend = static_cast<double>(before) - 2.0 * static_cast<double>(here) + static_cast<double>(after);
  if (bend >= 0.0) return 0.0;
  return std::clamp(0.5 * (static_cast<double>(before) - static_cast<double>(after)) / bend, -0.5, 0.5);
}

struct Ring {
  std::array<double, kRing> grey{};
  double low = 0.0, high = 0.0;
};

std::array<Vector2d, kRing> ring_directions() {
  std::array<Vector2d, kRing> directions;
  for (std::size_t i = 0; i < kRing; ++i) {
    const double angle = 2.0 * kPi * static_cast<double>(i) / kRing;
    directions[i] = {std::cos(angle), std::sin(angle)};
  }
  return directions;
}

Ring sample_ring(const cv::Mat1f& smooth, const Vector2d& centre, double radius) {
  static const std::array<Vector2d, kRing> directions = ring_directions();
  Ring ring;
  for (std::size_t i = 0; i < kRing; ++i) {
    const Vector2d px = centre + radius * directions[i];
    ring.grey[i] = bilinear(smooth, px.x(), px.y());
  }
  const auto [low, high] = std::minmax_element(ring.grey.begin(), ring.grey.end());
  ring.low = *low;
  ring.high = *high;
  return ring;
}

double turn_between(double a, double b) { return std::abs(std::remainder(a - b, 2.0 * kPi)); }

// Four crossings of the middle level, opposite ones in line, every sector reaching well past the middle.
bool read_ring(const Ring& ring, Saddle& saddle) {
  saddle.level = 0.5 * (ring.low + ring.high);
  saddle.contrast = 0.5 * (ring.high - ring.low);
  if (saddle.contrast < kMinSaddleContrast) return false;
  int crossings = 0;
  for (int i = 0; i < kRing; ++i) {
    const double a = ring.grey[static_cast<std::size_t>(i)] - saddle.level;
    const double b = ring.grey[static_cast<std::size_t>((i + 1) % kRing)] - saddle.level;
    if ((a > 0.0) == (b > 0.0)) continue;
    if (crossings == 4) return false;
    saddle.ray_rad[static_cast<std::size_t>(crossings)] = 2.0 * kPi / kRing * (i + a / (a - b));
    saddle.after[static_cast<std::size_t>(crossings)] = b > 0.0 ? 1 : -1;
    ++crossings;
  }
  if (crossings != 4) return false;
  constexpr double kInLine = 25.0 * kPi / 180.0;    // opposite edges of a corner, with what a lens bends them
  constexpr double kThinnest = 20.0 * kPi / 180.0;  // fields seen at a slant narrow to that
  for (std::size_t k = 0; k < 2; ++k)
    if (turn_between(saddle.ray_rad[k] + kPi, saddle.ray_rad[k + 2]) > kInLine) return false;
  for (std::size_t k = 0; k < 4; ++k) {
    const double from = saddle.ray_rad[k];
    const double to = saddle.ray_rad[(k + 1) % 4] + (k == 3 ? 2.0 * kPi : 0.0);
    if (to - from < kThinnest) return false;
    double reach = 0.0;
    for (int i = 0; i < 2 * kRing; ++i) {
      const double angle = 2.0 * kPi * i / kRing;
      if (angle > from && angle < to)
        reach = std::max(reach, saddle.after[k] * (ring.grey[static_cast<std::size_t>(i % kRing)] - saddle.level));
    }
    if (reach < 0.4 * saddle.contrast) return false;
  }
  return true;
}

struct Peak {
  int x = 0, y = 0;
  float strength = 0.0F;
};

// Highest of its 5 x 5 neighbourhood. Of equal ones the first in reading order: a corner midway between pixels of a
// picture without noise has two or four of them, and would otherwise be seen as often.
std::vector<Peak> find_peaks(const cv::Mat1f& strength, int margin) {
  std::vector<Peak> peaks;
  for (int y = margin; y < strength.rows - margin; ++y) {
    const float* line = strength.ptr<float>(y);
    for (int x = margin; x < strength.cols - margin; ++x) {
      const float here = line[x];
      if (here < kMinStrength || here <= line[x - 1] || here < line[x + 1]) continue;
      bool highest = true;
      for (int dy = -2; dy <= 2 && highest; ++dy) {
        const float* other = strength.ptr<float>(y + dy);
        for (int dx = -2; dx <= 2; ++dx) {
          const bool before = dy < 0 || (dy == 0 && dx < 0);
          if (before ? other[x + dx] >= here : other[x + dx] > here) highest = false;
        }
      }
      if (highest) peaks.push_back({x, y, here});
    }
  }
  return peaks;
}

}  // namespace

std::vector<Saddle> find_saddles(const cv::Mat1b& luma, double ring_radius_px, std::size_t max_count) {
  cv::Mat1f smooth;
  luma.convertTo(smooth, CV_32F);
  cv::GaussianBlur(smooth, smooth, cv::Size(5, 5), kSmoothPx, kSmoothPx, cv::BORDER_REPLICATE);
  const cv::Mat1f strength = saddle_strength(smooth);

  const int margin = static_cast<int>(std::ceil(ring_radius_px)) + 2;
  std::vector<Saddle> saddles;
  for (const Peak& peak : find_peaks(strength, margin)) {
    const float* line = strength.ptr<float>(peak.y);
    Saddle saddle;
    saddle.px = {peak.x + peak_shift(line[peak.x - 1], peak.strength, line[peak.x + 1]),
                 peak.y + peak_shift(strength(peak.y - 1, peak.x), peak.strength, strength(peak.y + 1, peak.x))};
    saddle.strength = static_cast<double>(peak.strength);
    if (read_ring(sample_ring(smooth, saddle.px, ring_radius_px), saddle)) saddles.push_back(saddle);
  }
  std::stable_sort(saddles.begin(), saddles.end(),
                   [](const Saddle& a, const Saddle& b) { return a.strength > b.strength; });
  if (saddles.size() > max_count) saddles.resize(max_count);
  return saddles;
}

}  // namespace jigtrue
