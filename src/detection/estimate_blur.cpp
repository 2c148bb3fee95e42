#include "jigtrue/detection/estimate_blur.hpp"

#include "jigtrue/base/median.hpp"

#include <array>
#include <cstddef>
#include <vector>

#include "detection/edge_blocks.hpp"

namespace jigtrue {
namespace {

// The value of the least misfit; the usual one unless another is truly better. More than one minimum is common: all are
// looked at.
template <std::size_t N, class Misfit>
double of_least(const std::array<double, N>& values, std::size_t usual, const Misfit& misfit) {
  double best = values[usual];
  double least = misfit(best);
  for (std::size_t i = 0; i < N; ++i) {
    if (i == usual) continue;
    const double value = misfit(values[i]);
    if (value >= least) continue;
    least = value;
    best = values[i];
  }
  return best;
}

// a fifth to a quarter apart
constexpr std::array kLumaBlurs_px{0.6, 0.75, 0.9, 1.1, 1.35, 1.7, 2.2, 2.8};
// stored at half resolution, and so told half as finely
constexpr std::array kChromaBlurs_px{0.5, 1.0, 1.5, 2.0, 2.6, 3.4};
constexpr std::size_t kUsualLumaBlur = 2;  // their index
constexpr std::size_t kUsualChromaBlur = 2;
static_assert(kLumaBlurs_px[kUsualLumaBlur] == PictureBlur{}.luma_px);
static_assert(kChromaBlurs_px[kUsualChromaBlur] == PictureBlur{}.chroma_px);

// How well one blank's edges are told with one blur or another. Its rows are averaged once for all of them.
class BlurTrial {
 public:
  BlurTrial(const View& view, const BlankPlace& place)
      : samples_(measured_samples(view, place)), disc_(view.is_disc()), models_(view.models) {
    for (const PartStretches& part : stretches({kLumaBlurs_px.back(), kChromaBlurs_px.back()})) {
      const Strip strip = strip_of(view.photo, part);
      for (const Stretch& stretch : part.stretches)
        rows_.emplace_back(strip, static_cast<int>(stretch.from), static_cast<int>(stretch.to));
    }
  }

  // Half of the stretches leave less than this share of what they would without an edge.
  [[nodiscard]] double misfit(const PictureBlur& blur, ChannelRange channels) const {
    std::vector<double> shares;
    auto rows = rows_.begin();
    for (PartStretches& part : stretches(blur)) {
      for (Stretch& stretch : part.stretches) {
        measure_edge(stretch, *rows++, {channels, kRangePx}, models_);
        if (stretch.block.edge.misfit_ratio > 0.0) shares.push_back(1.0 / stretch.block.edge.misfit_ratio);
      }
    }
    return median(shares).value_or(0.0);
  }

 private:
  static constexpr double kRangePx = 2.0;  // narrower than in the fit: the outline lies already
  std::vector<OutlineSample> samples_;
  bool disc_;
  EdgeModelStore& models_;
  std::vector<Rows> rows_;

  // in windows that do not depend on the blur, so that the misfits compare
  [[nodiscard]] std::vector<PartStretches> stretches(const PictureBlur& blur) const {
    return stretches_of(samples_, disc_, blur, reach_for(1.0), kRangePx, true);
  }
};

}  // namespace

PictureBlur estimate_blur(const View& view, const BlankPlace& place) {
  const BlurTrial trial(view, place);
  PictureBlur best;
  best.luma_px = of_least(kLumaBlurs_px, kUsualLumaBlur, [&](double px) {
    return trial.misfit({px, kChromaBlurs_px[kUsualChromaBlur]}, {0, 1});
  });
  if (view.photo.has_colour())
    best.chroma_px = of_least(kChromaBlurs_px, kUsualChromaBlur, [&](double px) {
      return trial.misfit({best.luma_px, px}, {1, kChannels});
    });
  return best;
}

}  // namespace jigtrue
