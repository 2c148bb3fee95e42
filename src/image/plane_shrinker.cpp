#include "image/plane_shrinker.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace jigtrue {
namespace {

using Taps = PlaneShrinker::Taps;

// The weights add up to 2^bits exactly.
Taps taps_of(int sample, double step, int length, int bits) {
  const double begin = std::min(sample * step, length - 1.0);
  const double end = std::min((sample + 1) * step, static_cast<double>(length));
  Taps taps;
  taps.first = static_cast<int>(begin);
  const int last = std::max(taps.first, static_cast<int>(std::ceil(end)) - 1);
  // each weight is the difference of two rounded sums, so that no rounding adds up
  const auto sum_up_to = [&](double edge) {
    const double share = end > begin ? std::clamp((edge - begin) / (end - begin), 0.0, 1.0) : 1.0;
    return static_cast<int>(std::lround(std::ldexp(share, bits)));
  };
  int sum = 0;
  for (int pixel = taps.first; pixel <= last; ++pixel) {
    const int next = pixel == last ? 1 << bits : sum_up_to(pixel + 1.0);
    taps.weights.push_back(static_cast<std::uint16_t>(next - sum));
    sum = next;
  }
  return taps;
}

constexpr int row_bits = 8;  // 255 * 2^8 just fits into 16 bits: eight columns at a time in the smallest of SIMD units
constexpr int column_bits = 12;  // 255 * 2^8 * 2^12 fits into 32 bits

void add_row(const unsigned char* row, unsigned weight, int width, std::uint16_t* sums) {
  const auto factor = static_cast<std::uint16_t>(weight);
  for (int x = 0; x < width; ++x) sums[x] = static_cast<std::uint16_t>(sums[x] + row[x] * factor);
}

void average_columns(const std::uint16_t* sums, const std::vector<Taps>& columns, unsigned char* result) {
  constexpr int bits = row_bits + column_bits;
  for (const Taps& column : columns) {
    const std::uint16_t* sum = sums + column.first;
    std::uint32_t total = 1u << (bits - 1);
    for (const std::uint32_t weight : column.weights) total += weight * *sum++;
    *result++ = static_cast<unsigned char>(total >> bits);
  }
}

}  // namespace

PlaneShrinker::PlaneShrinker(cv::Mat1b plane, int width_px, double step_x, double step_y)
    : plane_(std::move(plane)), step_y_(step_y) {
  columns_.reserve(static_cast<std::size_t>(width_px));
  for (int x = 0; x < width_px; ++x) columns_.push_back(taps_of(x, step_x, plane_.cols, column_bits));
}

cv::Mat1b PlaneShrinker::rows(const cv::Range& range) const {
  cv::Mat1b result(range.size(), static_cast<int>(columns_.size()));
  std::vector<std::uint16_t> sums(static_cast<std::size_t>(plane_.cols));
  for (int y = range.start; y < range.end; ++y) {
    const Taps rows = taps_of(y, step_y_, plane_.rows, row_bits);
    std::fill(sums.begin(), sums.end(), std::uint16_t{0});
    for (std::size_t i = 0; i < rows.weights.size(); ++i) {
      add_row(plane_[rows.first + static_cast<int>(i)], rows.weights[i], plane_.cols, sums.data());
    }
    average_columns(sums.data(), columns_, result[y - range.start]);
  }
  return result;
}

}  // namespace jigtrue
