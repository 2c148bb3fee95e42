#include "inspection/bare_ground.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kGround_mm = 5.0;  // over which the bare ground's light is averaged along the axis
constexpr double kGroundAcross_mm = 0.12;
constexpr double kFartherAcross_mm = 0.8;

struct WeighedMean {
  cv::Mat1f sum;
  cv::Mat1f norm;
};

WeighedMean blurred_by_weight(const cv::Mat1f& weighed, const cv::Mat1f& weight, double along_px, double across_px) {
  WeighedMean out;
  cv::GaussianBlur(weighed, out.sum, cv::Size(), along_px, across_px, cv::BORDER_CONSTANT);
  cv::GaussianBlur(weight, out.norm, cv::Size(), along_px, across_px, cv::BORDER_CONSTANT);
  return out;
}

// Mean of a picture's neighbourhood by weights: along the axis, and a little across; under ink that runs on along the
// axis, where nothing lies bare so near, from farther across.
cv::Mat1f ground_of(const cv::Mat1f& picture, const cv::Mat1f& weight, double pitch_mm) {
  constexpr float kFartherShare = 0.01F;  // of what lies farther across, where both are bare
  const double along = kGround_mm / pitch_mm;
  const cv::Mat1f weighed = picture.mul(weight);
  const WeighedMean near = blurred_by_weight(weighed, weight, along, std::max(0.3, kGroundAcross_mm / pitch_mm));
  const WeighedMean far = blurred_by_weight(weighed, weight, along, std::max(0.3, kFartherAcross_mm / pitch_mm));
  cv::Mat1f out(picture.size());
  for (int row = 0; row < out.rows; ++row)
    for (int column = 0; column < out.cols; ++column) {
      const float norm = near.norm(row, column) + kFartherShare * far.norm(row, column);
      const float sum = near.sum(row, column) + kFartherShare * far.sum(row, column);
      out(row, column) = norm > 1e-5F ? sum / norm : 0.0F;
    }
  return out;
}

float middle_of(std::vector<float>& values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace

Unrolled without_glare(const Unrolled& given) {
  constexpr float kGlare = 2.5F;
  std::vector<std::vector<float>> lines(static_cast<std::size_t>(given.light.rows));
  std::vector<float> all;
  for (int row = 0; row < given.light.rows; ++row)
    for (int column = 0; column < given.light.cols; ++column)
      if (given.seen(row, column) != 0) {
        lines[static_cast<std::size_t>(row)].push_back(given.light(row, column));
        all.push_back(given.light(row, column));
      }
  Unrolled out = given;
  if (all.empty()) return out;
  out.seen = given.seen.clone();
  const float usual = middle_of(all);
  for (int row = 0; row < out.seen.rows; ++row)
    if (auto& line = lines[static_cast<std::size_t>(row)]; !line.empty() && middle_of(line) > kGlare * usual)
      out.seen.row(row).setTo(0);
  return out;
}

GroundLoss::GroundLoss(cv::Mat1f weight, double pitch_mm) : weight_(std::move(weight)), pitch_mm_(pitch_mm) {}

cv::Mat1f GroundLoss::operator()(const cv::Mat1f& picture) const {
  return cv::Mat1f(picture - ground_of(picture, weight_, pitch_mm_)).mul(weight_);
}

cv::Mat1f relative_light(const Unrolled& on, const cv::Mat1f& ground_weight) {
  const cv::Mat1f ground = ground_of(on.light, ground_weight, on.pitch_mm);
  constexpr float kPalest = 30.0F;  // bare metal under a black coat
  cv::Mat1f out = cv::Mat1f::zeros(on.light.size());
  for (int row = 0; row < out.rows; ++row)
    for (int column = 0; column < out.cols; ++column)
      if (on.seen(row, column) != 0 && ground(row, column) > 1e-5F)
        out(row, column) = std::clamp(on.light(row, column) / ground(row, column) - 1.0F, -1.0F, kPalest);
  return out;
}

cv::Mat1f left_by_ground(const cv::Size& padded, double pitch_mm) {
  const auto gaussian = [&](int index, int size, double sigma) {
    const double f = static_cast<double>(std::min(index, size - index)) / size;
    return std::exp(-2.0 * kPi * kPi * f * f * sigma * sigma);
  };
  cv::Mat1f out(padded);
  for (int row = 0; row < padded.height; ++row)
    for (int column = 0; column < padded.width; ++column)
      out(row, column) =
          static_cast<float>(1.0 - gaussian(column, padded.width, kGround_mm / pitch_mm) *
                                       gaussian(row, padded.height, std::max(0.3, kGroundAcross_mm / pitch_mm)));
  return out;
}

}  // namespace jigtrue
