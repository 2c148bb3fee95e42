#include "jigtrue/image/sharpest_blur.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kFiner_px = 1.0;  // the two further blurs
constexpr double kCoarser_px = 2.0;
constexpr double kOfDifference =
    1.0 / 3.0;               // px^2: what a slope from pixels two apart, a box that wide, adds to a blur's variance
constexpr int kStep_px = 4;  // between the lines that are looked along
constexpr std::size_t kFewest = 40;    // edges to speak of
constexpr std::size_t kSharpest = 10;  // the sharpest tenth: the others are shadows, or meet their line at a slant
constexpr double kLeastSlope = 3.0;    // grey levels a px, after the finer blur: above noise and compression
constexpr double kWidest_px = 2.5;     // what the two blurs can tell; wider ones need a coarser picture

// Slopes of the twice blurred lines at the steepest places along one direction.
void add_blurs(const cv::Mat1f& finer, const cv::Mat1f& coarser, std::vector<double>& blurs_px) {
  for (int y = 0; y < finer.rows; y += kStep_px) {
    const float* fine = finer.ptr<float>(y);
    const float* coarse = coarser.ptr<float>(y);
    for (int x = 2; x + 2 < finer.cols; ++x) {
      const auto slope = [&](const float* line, int at) {
        return static_cast<double>(line[at + 1] - line[at - 1]) / 2.0;
      };
      const double here = std::abs(slope(fine, x));
      if (here < kLeastSlope || here < std::abs(slope(fine, x - 1)) || here <= std::abs(slope(fine, x + 1))) continue;
      const double after = std::abs(slope(coarse, x));
      const double ratio = here / std::max(after, 1e-6);
      const double square = ratio * ratio;
      if (square <= 1.0) continue;
      const double sigma_square =
          (kCoarser_px * kCoarser_px - square * kFiner_px * kFiner_px) / (square - 1.0) - kOfDifference;
      blurs_px.push_back(std::sqrt(std::max(sigma_square, 0.0)));
    }
  }
}

std::optional<double> blur_at(const cv::Mat1b& luma, const std::vector<cv::Rect>& parts) {
  std::vector<double> blurs_px;
  const cv::Rect whole(0, 0, luma.cols, luma.rows);
  for (const cv::Rect& part : parts) {
    const cv::Rect inside = part & whole;
    if (inside.width < 16 || inside.height < 16) continue;
    for (const bool turned : {false, true}) {
      // along the lines only: across them an edge must not be smoothed with its neighbours
      cv::Mat1f lines;
      luma(inside).convertTo(lines, CV_32F);
      if (turned) lines = lines.t();
      cv::Mat1f finer;
      cv::Mat1f coarser;
      cv::GaussianBlur(lines, finer, cv::Size(9, 1), kFiner_px, 0.1);
      cv::GaussianBlur(lines, coarser, cv::Size(17, 1), kCoarser_px, 0.1);
      add_blurs(finer, coarser, blurs_px);
    }
  }
  if (blurs_px.size() < kFewest) return std::nullopt;
  const auto place = blurs_px.begin() + static_cast<std::ptrdiff_t>(blurs_px.size() / kSharpest);
  std::nth_element(blurs_px.begin(), place, blurs_px.end());
  return *place;
}

}  // namespace

std::optional<double> sharpest_blur_px(const cv::Mat1b& luma, const std::vector<cv::Rect>& parts) {
  const std::optional<double> blur = blur_at(luma, parts);
  if (blur && *blur < kWidest_px) return blur;
  if (std::min(luma.cols, luma.rows) < 256) return blur;
  cv::Mat1b half;
  cv::resize(luma, half, cv::Size(luma.cols / 2, luma.rows / 2), 0, 0, cv::INTER_AREA);
  std::vector<cv::Rect> halves;
  halves.reserve(parts.size());
  for (const cv::Rect& part : parts) halves.emplace_back(part.x / 2, part.y / 2, part.width / 2, part.height / 2);
  const std::optional<double> coarser = sharpest_blur_px(half, halves);
  return coarser ? 2.0 * *coarser : blur;
}

}  // namespace jigtrue
