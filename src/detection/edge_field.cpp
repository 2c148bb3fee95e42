#include "detection/edge_field.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr double kEdgeSigmaPx = 1.2;  // scale of the derivative: about the blur of a sharp photo

std::vector<float> derivative_kernel(double step_px) {
  const int half = static_cast<int>(std::ceil(3.0 * kEdgeSigmaPx / step_px));
  std::vector<float> kernel;
  double norm = 0.0;
  for (int k = -half; k <= half; ++k) {
    const double x = k * step_px;
    const double value = x * std::exp(-0.5 * x * x / (kEdgeSigmaPx * kEdgeSigmaPx));
    kernel.push_back(static_cast<float>(value));
    norm += value * x;
  }
  for (float& value : kernel) value = static_cast<float>(static_cast<double>(value) / norm);
  return kernel;
}

}  // namespace

EdgeField edge_field(const Photo& photo, const std::vector<OutlineSample>& samples, double reach_px) {
  constexpr double kStepPx = 1.0;  // of the profiles: a coarse search needs none finer
  const std::vector<float> kernel = derivative_kernel(kStepPx);
  const int half = static_cast<int>(kernel.size() / 2);
  const double margin = half * kStepPx;
  const double reach = std::ceil(reach_px);
  const Strip wide = sample_strip(photo, samples, -reach - margin, reach + margin, kStepPx);
  EdgeField field;
  field.strip.first_px = -reach;
  field.strip.step_px = kStepPx;
  field.strip.rows = wide.rows;
  field.strip.columns = wide.columns - 2 * half;
  field.vectors.resize(static_cast<std::size_t>(field.strip.rows) * static_cast<std::size_t>(field.strip.columns) *
                       kChannels);
  std::vector<float> strengths;
  strengths.reserve(field.vectors.size() / kChannels);
  const Eigen::Index columns = field.strip.columns;
  for (int i = 0; i < field.strip.rows; ++i) {
    Eigen::Array<float, kChannels, Eigen::Dynamic> vectors(kChannels, columns);
    for (int c = 0; c < kChannels; ++c) {
      const Eigen::Map<const Eigen::ArrayXf> row(wide.row(c, i), wide.columns);
      Eigen::ArrayXf sum = kernel[0] * row.head(columns);
      for (std::size_t k = 1; k < kernel.size(); ++k)
        sum += kernel[k] * row.segment(static_cast<Eigen::Index>(k), columns);
      vectors.row(c) = sum.transpose();
    }
    std::copy_n(vectors.data(), vectors.size(), field.vectors.data() + i * vectors.size());
    for (Eigen::Index j = 0; j < columns; ++j) strengths.push_back(vectors.col(j).matrix().norm());
  }
  if (strengths.empty()) return field;
  // Saturates well above the ordinary texture of this very slot, never below the noise of an 8-bit picture.
  auto middle = strengths.begin() + static_cast<std::ptrdiff_t>(strengths.size() * 7 / 10);
  std::nth_element(strengths.begin(), middle, strengths.end());
  const float floor = std::max(2.0F * *middle, 1.0F);
  for (std::size_t k = 0; k + 2 < field.vectors.size(); k += kChannels) {
    float* v = field.vectors.data() + k;
    const float length = std::sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2] + floor * floor);
    for (int c = 0; c < kChannels; ++c) v[c] /= length;
  }
  return field;
}

TrialValues trial_values(double reach, double step) {
  const int half = std::max(1, static_cast<int>(std::ceil(reach / step)));
  return {2 * half + 1, reach / half};
}

std::vector<double> support_along(const EdgeField& field, const std::vector<OutlineSample>& samples, OutlinePart part,
                                  int parameter, const TrialValues& values, int other, double other_value) {
  std::vector<double> sums(static_cast<std::size_t>(values.n) * kChannels, 0.0);
  int count = 0;
  for (int i = 0; i < field.strip.rows; ++i) {
    const OutlineSample& sample = samples[static_cast<std::size_t>(i)];
    if (sample.part != part) continue;
    ++count;
    const double fixed = sample.by_place[other] * other_value - field.strip.first_px;
    for (int k = 0; k < values.n; ++k) {
      const auto column = static_cast<int>(
          std::floor((sample.by_place[parameter] * values.value(k) + fixed) / field.strip.step_px + 0.5));
      if (column < 0 || column >= field.strip.columns) continue;
      const float* vector = field.at(i, column);
      double* sum = sums.data() + static_cast<std::ptrdiff_t>(k) * kChannels;
      for (int c = 0; c < kChannels; ++c) sum[c] += static_cast<double>(vector[c]);
    }
  }
  std::vector<double> support(static_cast<std::size_t>(values.n), 0.0);
  if (count == 0) return support;
  for (std::size_t k = 0; k < support.size(); ++k)
    support[k] =
        std::sqrt(sums[3 * k] * sums[3 * k] + sums[3 * k + 1] * sums[3 * k + 1] + sums[3 * k + 2] * sums[3 * k + 2]) /
        count;
  return support;
}

double mean_abs(const std::vector<OutlineSample>& samples, OutlinePart part, int parameter) {
  double sum = 0.0;
  int n = 0;
  for (const OutlineSample& sample : samples) {
    if (sample.part != part) continue;
    sum += std::abs(sample.by_place[parameter]);
    ++n;
  }
  return n > 0 ? sum / n : 0.0;
}

bool is_peak(const std::vector<double>& support, int k) {
  const auto u = static_cast<std::size_t>(k);
  return (u == 0 || support[u] >= support[u - 1]) && (u + 1 == support.size() || support[u] >= support[u + 1]);
}

}  // namespace jigtrue
