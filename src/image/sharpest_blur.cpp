#include "jigtrue/image/sharpest_blur.hpp"

#include "jigtrue/geometry/types.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdlib>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

// Of an edge, grey levels: far above noise; and what must do where hardly one is as high. A blank on a ground nearly
// like it would else be judged by its soft shadow, which a coarser picture shows as an edge.
constexpr std::array kLeastHeights{40, 20};
constexpr int kReach_px = 4;           // an edge's height is taken so far to either side of its steepest step
constexpr int kEveryLine = 3;          // a third of the rows and columns tells as much as all
constexpr std::size_t kFewest = 100;   // edges to speak of
constexpr std::size_t kSharpest = 10;  // the sharpest tenth: the others are shadows, or meet their line at a slant
constexpr double kWidest_px = 2.0;     // of wider ones nine pixels do not show the whole height: 2.4 % less at this one
constexpr int kSmallest_px = 256;      // a picture that is halved once more has less to tell

// Edges by their blur.
class EdgeCount {
 public:
  explicit EdgeCount(int least_height) : least_height_(least_height) {}

  // A line of pixels, `pace` apart.
  void add(const unsigned char* line, int count, std::ptrdiff_t pace) {
    const auto at = [&](int i) { return static_cast<int>(line[i * pace]); };
    for (int i = kReach_px; i + 1 + kReach_px < count; ++i) {
      const int step = std::abs(at(i + 1) - at(i));
      const int height = std::abs(at(i + 1 + kReach_px) - at(i - kReach_px));
      if (height <= least_height_ || step < std::abs(at(i) - at(i - 1)) || step <= std::abs(at(i + 2) - at(i + 1)))
        continue;
      const auto bin = static_cast<std::size_t>(height / (step * std::sqrt(2.0 * kPi)) / kBin_px);
      if (bin < counts_.size()) ++counts_[bin];
    }
  }

  [[nodiscard]] std::optional<double> sharpest_px() const {
    std::size_t all = 0;
    for (const std::size_t count : counts_) all += count;
    if (all < kFewest) return std::nullopt;
    std::size_t below = 0;
    std::size_t bin = 0;
    for (; bin < counts_.size(); ++bin) {
      below += counts_[bin];
      if (kSharpest * below >= all) break;
    }
    return (static_cast<double>(bin) + 0.5) * kBin_px;
  }

 private:
  static constexpr double kBin_px = 0.01;  // finer than any use of it asks for
  int least_height_;
  std::array<std::size_t, 500> counts_{};
};

std::optional<double> blur_at(const cv::Mat1b& luma, const std::vector<cv::Rect>& parts, int least_height) {
  EdgeCount edges(least_height);
  for (const cv::Rect& part : parts) {
    if (part.empty()) continue;
    // an edge at a part's border is seen whole
    const cv::Rect wider(part.x - kReach_px, part.y - kReach_px, part.width + 2 * kReach_px,
                         part.height + 2 * kReach_px);
    const cv::Mat1b inside = luma(wider & cv::Rect(0, 0, luma.cols, luma.rows));
    if (inside.empty()) continue;
    for (int y = 0; y < inside.rows; y += kEveryLine) edges.add(inside.ptr(y), inside.cols, 1);
    const auto pace = static_cast<std::ptrdiff_t>(inside.step);
    for (int x = 0; x < inside.cols; x += kEveryLine) edges.add(inside.ptr(0) + x, inside.rows, pace);
  }
  return edges.sharpest_px();
}

}  // namespace

std::optional<double> sharpest_blur_px(const cv::Mat1b& luma, const std::vector<cv::Rect>& parts) {
  std::optional<double> blur;
  for (const int least_height : kLeastHeights) {
    if (!blur) blur = blur_at(luma, parts, least_height);
  }
  if (blur && *blur < kWidest_px) return blur;
  if (std::min(luma.cols, luma.rows) < kSmallest_px) return blur;
  cv::Mat1b half;
  cv::resize(luma, half, cv::Size(luma.cols / 2, luma.rows / 2), 0, 0, cv::INTER_AREA);
  std::vector<cv::Rect> halves;
  halves.reserve(parts.size());
  for (const cv::Rect& part : parts) halves.emplace_back(part.x / 2, part.y / 2, part.width / 2, part.height / 2);
  const std::optional<double> coarser = sharpest_blur_px(half, halves);
  return coarser ? 2.0 * *coarser : blur;
}

}  // namespace jigtrue
