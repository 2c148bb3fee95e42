#include "inspection/bare_ground.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kGround_mm = 5.0;         // over which the bare ground's light is averaged along the axis
constexpr double kGroundAcross_mm = 0.12;  // a stripe of grain's width
constexpr double kFartherAcross_mm = 0.8;  // where the ink leaves nothing nearer bare

// Averaged along rows as by a Gaussian of this sigma, by three boxes in turn (W. M. Wells, IEEE PAMI 8(2), 1986): as
// quick for wide ones as for narrow ones. Nothing lies beyond the picture.
cv::Mat1f along_rows(const cv::Mat1f& picture, double sigma_px) {
  const int wide = 2 * static_cast<int>(std::lround(0.5 * (std::sqrt(4.0 * sigma_px * sigma_px + 1.0) - 1.0))) + 1;
  cv::Mat1f out = picture;
  for (int i = 0; i < 3; ++i) {
    cv::Mat1f next;
    cv::blur(out, next, cv::Size(wide, 1), cv::Point(-1, -1), cv::BORDER_CONSTANT);
    out = next;
  }
  return out;
}

cv::Mat1f across_rows(const cv::Mat1f& picture, double sigma_mm, double pitch_mm) {
  cv::Mat1f out;
  cv::GaussianBlur(picture, out, cv::Size(1, 0), 0.0, std::max(0.3, sigma_mm / pitch_mm), cv::BORDER_CONSTANT);
  return out;
}

// A little across, and under ink that runs on along the axis, where nothing lies bare so near, from farther across.
cv::Mat1f neighbourhood(const cv::Mat1f& weighed, double pitch_mm) {
  constexpr double kFartherShare = 0.01;  // of what lies farther across, where both are bare
  const cv::Mat1f along = along_rows(weighed, kGround_mm / pitch_mm);
  return cv::Mat1f(across_rows(along, kGroundAcross_mm, pitch_mm) +
                   kFartherShare * across_rows(along, kFartherAcross_mm, pitch_mm));
}

float middle_of(std::vector<float>& values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace

Unrolled without_glare(const Unrolled& given) {
  constexpr float kGlare = 2.5F;  // times the row's median: a lamp's image, no wood
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

GroundMean::GroundMean(cv::Mat1f weight, double pitch_mm)
    : weight_(std::move(weight)), norm_(neighbourhood(weight_, pitch_mm)), pitch_mm_(pitch_mm) {}

cv::Mat1f GroundMean::operator()(const cv::Mat1f& picture) const {
  constexpr float kNothing = 1e-5F;  // of the weight: no bare ground at all
  const cv::Mat1f sum = neighbourhood(picture.mul(weight_), pitch_mm_);
  cv::Mat1f out(picture.size());
  for (int row = 0; row < out.rows; ++row)
    for (int column = 0; column < out.cols; ++column)
      out(row, column) = norm_(row, column) > kNothing ? sum(row, column) / norm_(row, column) : 0.0F;
  return out;
}

GroundLoss::GroundLoss(const cv::Mat1f& weight, double pitch_mm) : weight_(weight), mean_(weight, pitch_mm) {}

cv::Mat1f GroundLoss::operator()(const cv::Mat1f& picture) const {
  return cv::Mat1f(picture - mean_(picture)).mul(weight_);
}

cv::Mat1f relative_light(const Unrolled& on, const cv::Mat1f& ground_weight) {
  const cv::Mat1f ground = GroundMean(ground_weight, on.pitch_mm)(on.light);
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
