#include "image/shrink_plane.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <vector>

#include <opencv2/core/utility.hpp>

namespace jigtrue {
namespace {

// The pixels that one sample covers and their weights, whole numbers that add up to 2^bits exactly.
struct Taps {
  int first = 0;
  std::vector<std::uint16_t> weights;
};

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

cv::Mat1b shrink_plane(const cv::Mat1b& plane, cv::Size size, double step_x, double step_y) {
  std::vector<Taps> columns;
  columns.reserve(static_cast<std::size_t>(size.width));
  for (int x = 0; x < size.width; ++x) columns.push_back(taps_of(x, step_x, plane.cols, column_bits));
  cv::Mat1b result(size);
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    std::vector<std::uint16_t> sums(static_cast<std::size_t>(plane.cols));
    for (int y = range.start; y < range.end; ++y) {
      const Taps rows = taps_of(y, step_y, plane.rows, row_bits);
      std::fill(sums.begin(), sums.end(), std::uint16_t{0});
      for (std::size_t i = 0; i < rows.weights.size(); ++i) {
        add_row(plane[rows.first + static_cast<int>(i)], rows.weights[i], plane.cols, sums.data());
      }
      average_columns(sums.data(), columns, result[y]);
    }
  });
  return result;
}

}  // namespace jigtrue
