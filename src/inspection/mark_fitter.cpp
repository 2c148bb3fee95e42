#include "inspection/mark_fitter.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "inspection/peak_finder.hpp"
#include <Eigen/Dense>
#include <opencv2/core.hpp>

namespace jigtrue {

std::optional<MarkFit> MarkFitter::fit(const InkRaster& ink, MarkPose pose, int steps) const {
  MarkFit fit;
  const double half = std::max(1.0, 0.5 * ink.ink.size().x());
  for (int k = 0; k <= steps; ++k) {
    const std::array<cv::Mat2f, 4> by = slopes(ink, pose);
    const double energy = texture_.inner(by[0], by[0]);
    if (!(energy > 1e-9)) return std::nullopt;
    const double amplitude = texture_.inner(by[0], data_) / energy;
    const Eigen::Vector4d scale(1.0, amplitude, amplitude, amplitude);
    Eigen::Vector4d right;
    for (int i = 0; i < 4; ++i) {
      const cv::Mat2f& slope = by[static_cast<std::size_t>(i)];
      right[i] = scale[i] * (texture_.inner(slope, data_) - amplitude * texture_.inner(slope, by[0]));
      for (int j = i; j < 4; ++j)
        fit.normal(i, j) = fit.normal(j, i) =
            scale[i] * scale[j] * texture_.inner(slope, by[static_cast<std::size_t>(j)]);
    }
    fit.pose = pose;
    fit.amplitude = amplitude;
    if (k == steps) break;
    Eigen::Vector4d change = fit.normal.ldlt().solve(right);
    if (!change.allFinite()) return std::nullopt;
    // a step beyond the blur would leave the slope that it was taken from
    const double longest = std::max({std::abs(change[1]), std::abs(change[2]), std::abs(change[3]) * half});
    if (longest > 0.3) change *= 0.3 / longest;
    pose.uv_mm += Vector2d(change[1], change[2]);
    pose.turn_rad += change[3];
    if (longest < 2e-4 && k + 1 < steps) k = steps - 1;
  }
  return fit;
}

Vector3d MarkFitter::scatter_elsewhere(const InkRaster& ink, const MarkFit& fit, const cv::Mat1f& residual,
                                       const cv::Mat1b& bare) const {
  constexpr float kHalf = 0.5F;  // of a pixel's weight: mostly bare
  const std::array<cv::Mat2f, 4> by = slopes(ink, fit.pose);
  const cv::Mat1f pattern = laid(on_, ink, fit.pose).mul(weight_);
  const cv::Mat2f left = texture_.spectrum(residual.mul(weight_of(bare)));
  const cv::Mat1f share =
      seen_share(texture_, texture_.spectrum(weight_of(bare)), texture_.spectrum(pattern), cv::sum(pattern)[0]);
  std::array<cv::Mat1f, 4> pull;
  for (std::size_t i = 0; i < 4; ++i) pull[i] = texture_.correlation(left, by[i]);
  const Eigen::Matrix4d inverse = fit.normal.inverse();
  Vector3d square = Vector3d::Zero();
  double count = 0.0;
  for (int row = 0; row < share.rows; ++row)
    for (int column = 0; column < share.cols; ++column) {
      if (share(row, column) < kHalf) continue;
      Eigen::Vector4d right;
      for (int i = 0; i < 4; ++i)
        right[i] = (i == 0 ? 1.0 : fit.amplitude) * static_cast<double>(pull[static_cast<std::size_t>(i)](row, column));
      // less of it seen tells the place less well: by the root of the share
      const Eigen::Vector4d answer = inverse * right / std::sqrt(static_cast<double>(share(row, column)));
      square += answer.tail<3>().cwiseAbs2();
      count += 1.0;
    }
  constexpr double kEnough = 200.0;  // bare pixels
  return count < kEnough ? Vector3d(Vector3d::Zero()) : Vector3d(square / count);
}

std::array<cv::Mat2f, 4> MarkFitter::slopes(const InkRaster& ink, const MarkPose& pose) const {
  const cv::Mat1f pattern = laid(on_, ink, pose);
  const std::array<cv::Mat1f, 2> slope = shift_slopes(pattern, on_.pitch_mm);
  cv::Mat1f turn(pattern.size());
  for (int row = 0; row < pattern.rows; ++row)
    for (int column = 0; column < pattern.cols; ++column) {
      const Vector2d arm = on_.uv(column, row) - pose.uv_mm;
      turn(row, column) =
          static_cast<float>(arm.x()) * slope[1](row, column) - static_cast<float>(arm.y()) * slope[0](row, column);
    }
  return {texture_.spectrum(loss_(pattern)), texture_.spectrum(loss_(slope[0])), texture_.spectrum(loss_(slope[1])),
          texture_.spectrum(loss_(turn))};
}

}  // namespace jigtrue
