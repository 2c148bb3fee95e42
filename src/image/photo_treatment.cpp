#include "jigtrue/image/photo_treatment.hpp"

#include <array>
#include <cmath>
#include <cstdlib>

namespace jigtrue {
namespace {

bool is_neutral(const cv::Mat1b& plane) {
  constexpr std::size_t kOneIn = 1000;
  std::size_t coloured = 0;
  for (int y = 0; y < plane.rows; ++y)
    for (int x = 0; x < plane.cols; ++x) coloured += std::abs(plane(y, x) - 128) > 1 ? 1U : 0U;
  return coloured * kOneIn <= static_cast<std::size_t>(plane.rows) * static_cast<std::size_t>(plane.cols);
}

// How blurred edges are, counted.
class BlurCount {
 public:
  // A line of pixels, `pace` apart.
  void add(const unsigned char* line, int count, std::ptrdiff_t pace) {
    constexpr int kLeast = 40;  // grey levels: far above noise
    const auto at = [&](int i) { return static_cast<int>(line[i * pace]); };
    for (int i = 4; i + 5 < count; ++i) {
      const int step = std::abs(at(i + 1) - at(i));
      const int height = std::abs(at(i + 5) - at(i - 4));
      if (height <= kLeast || step < std::abs(at(i) - at(i - 1)) || step <= std::abs(at(i + 2) - at(i + 1))) continue;
      const auto bin = static_cast<std::size_t>(height / (step * std::sqrt(2.0 * kPi)) / kBin_px);
      if (bin >= counts_.size()) continue;
      ++counts_[bin];
    }
  }

  [[nodiscard]] double sharpest_px() const {
    constexpr std::size_t kEnough = 500;
    std::size_t all = 0;
    for (const std::size_t count : counts_) all += count;
    if (all < kEnough) return 0.0;
    std::size_t below = 0;
    for (std::size_t bin = 0; bin < counts_.size(); ++bin) {
      below += counts_[bin];
      if (10 * below >= all) return (static_cast<double>(bin) + 0.5) * kBin_px;
    }
    return 0.0;
  }

 private:
  static constexpr double kBin_px = 0.01;
  std::array<std::size_t, 500> counts_{};
};

}  // namespace

PhotoTreatment photo_treatment(const Photo& photo) {
  PhotoTreatment treatment;
  treatment.grey = !photo.has_colour() || (is_neutral(photo.cb) && is_neutral(photo.cr));
  BlurCount blur;
  constexpr int kEvery = 3;  // rows and columns: a third of them tells as much
  for (int y = 0; y < photo.luma.rows; y += kEvery) blur.add(photo.luma.ptr(y), photo.luma.cols, 1);
  const auto pace = static_cast<std::ptrdiff_t>(photo.luma.step);
  for (int x = 0; x < photo.luma.cols; x += kEvery) blur.add(photo.luma.ptr(0) + x, photo.luma.rows, pace);
  treatment.blur_px = blur.sharpest_px();
  return treatment;
}

}  // namespace jigtrue
