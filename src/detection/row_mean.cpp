#include "jigtrue/detection/row_mean.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <stdexcept>

namespace jigtrue {
namespace {

// So many columns are sorted side by side: what a processor compares at once.
constexpr std::size_t kAbreast = 8;
using Abreast = std::array<float, kAbreast>;

// Sorts every lane: merge exchange (Batcher 1968; Knuth, TAOCP 3, 5.2.2, algorithm M), whose comparisons do not depend
// on the values.
void sort_lanes(std::vector<Abreast>& rows) {
  const std::size_t n = rows.size();
  const auto exchange = [&](std::size_t i, std::size_t j) {
    Abreast& a = rows[i];
    Abreast& b = rows[j];
    for (std::size_t k = 0; k < kAbreast; ++k) {
      const float low = std::min(a[k], b[k]);
      b[k] = std::max(a[k], b[k]);
      a[k] = low;
    }
  };
  if (n < 2) return;
  const std::size_t top = std::bit_ceil(n) / 2;
  for (std::size_t p = top; p > 0; p /= 2) {
    std::size_t q = top;
    std::size_t r = 0;
    std::size_t d = p;
    while (true) {
      for (std::size_t i = 0; i + d < n; ++i)
        if ((i & p) == r) exchange(i, i + d);
      if (q == p) break;
      d = q - p;
      q /= 2;
      r = p;
    }
  }
}

}  // namespace

RowMean::RowMean(const Strip& strip, int from, int to) {
  constexpr double kQuartilesOfGaussian = 1.349;  // between the quartiles, in standard deviations: 2 x 0.6745
  // What counts as noise in the fits, and so what their misfit ratios mean, was settled with this share of it.
  constexpr double kShareOfScatter = 0.4;
  const int n = to - from;
  const int cut = n / 4;  // a quarter from either end is left out: the interquartile mean
  kept_ = n - 2 * cut;
  std::vector<Abreast> rows(static_cast<std::size_t>(n));
  for (int c = 0; c < kChannels; ++c) {
    const auto channel = static_cast<std::size_t>(c);
    means_[channel].resize(strip.columns);
    scatters_[channel].resize(strip.columns);
    for (int first = 0; first < strip.columns; first += static_cast<int>(kAbreast)) {
      const int lanes = std::min(static_cast<int>(kAbreast), strip.columns - first);
      for (int i = 0; i < n; ++i) {
        Abreast& row = rows[static_cast<std::size_t>(i)];
        row.fill(0.0F);
        std::copy_n(strip.row(c, from + i) + first, lanes, row.begin());
      }
      sort_lanes(rows);
      const auto lower = static_cast<std::size_t>(cut);
      const auto upper = static_cast<std::size_t>(n - 1 - cut);
      for (int k = 0; k < lanes; ++k) {
        const auto lane = static_cast<std::size_t>(k);
        double sum = 0.0;
        for (std::size_t i = lower; i <= upper; ++i) sum += static_cast<double>(rows[i][lane]);
        means_[channel][first + k] = sum / kept_;
        scatters_[channel][first + k] =
            kShareOfScatter / kQuartilesOfGaussian * static_cast<double>(rows[upper][lane] - rows[lower][lane]);
      }
    }
  }
}

MeanProfile RowMean::window(int first_column, int columns) const {
  if (first_column < 0 || columns < 0 || first_column + columns > means_[0].size())
    throw std::logic_error("a window of a strip's mean reaches beyond the strip");
  MeanProfile mean;
  for (std::size_t c = 0; c < kChannels; ++c) {
    const auto values = means_[c].segment(first_column, columns);
    mean.values[c].assign(values.begin(), values.end());
    // rows are about two pixels apart and so nearly independent
    mean.noise[c] =
        scatters_[c].segment(first_column, columns).mean() / std::sqrt(static_cast<double>(std::max(1, kept_)));
  }
  return mean;
}

}  // namespace jigtrue
