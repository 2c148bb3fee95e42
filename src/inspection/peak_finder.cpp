#include "inspection/peak_finder.hpp"

#include <algorithm>
#include <cmath>

#include "inspection/bare_ground.hpp"
#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

cv::Mat2f spectrum_times(const cv::Mat2f& spectrum, const cv::Mat1f& real) {
  cv::Mat2f out(spectrum.size());
  for (int row = 0; row < spectrum.rows; ++row)
    for (int column = 0; column < spectrum.cols; ++column) out(row, column) = spectrum(row, column) * real(row, column);
  return out;
}

int steps_of_turn(const InkRaster& ink, double reach_rad) {
  const double half = std::max(1.0, 0.5 * ink.ink.size().x());
  return std::min(12, static_cast<int>(std::ceil(reach_rad * half / 0.25)));
}

}  // namespace

cv::Mat1f seen_share(const Texture& texture, const cv::Mat2f& seen, const cv::Mat2f& pattern, double pattern_sum) {
  cv::Mat2f product;
  cv::mulSpectrums(seen, pattern, product, 0, true);
  cv::Mat1f share;
  cv::dft(product, share, cv::DFT_INVERSE | cv::DFT_SCALE | cv::DFT_REAL_OUTPUT);
  CV_Assert(share.size() == texture.padded());
  return share / std::max(pattern_sum, 1e-9);
}

PeakFinder::PeakFinder(const Unrolled& on, const InkRaster& ink, const Texture& texture, const cv::Mat1f& picture,
                       const cv::Mat1b& seen)
    : on_(on),
      ink_(ink),
      texture_(texture),
      spectrum_(texture.spectrum(picture.mul(weight_of(seen)))),
      seen_spectrum_(texture.spectrum(weight_of(seen))),
      left_(left_by_ground(texture.padded(), on.pitch_mm)) {}

MarkPeak PeakFinder::find(const MarkSearch& search, const Eigen::Vector2i& mirror, const std::optional<Vector2d>& from,
                          double keep_off_mm) {
  MarkPeak best;
  const int steps = steps_of_turn(ink_, search.reach_rad);
  for (int k = -steps; k <= steps; ++k) {
    const double turn = steps > 0 ? search.reach_rad * k / steps : 0.0;
    const cv::Mat1f& scores = scores_of(turn, mirror);
    const auto count = [&](int axis) { return static_cast<int>(search.reach_mm[axis] / on_.pitch_mm); };
    const Vector2d middle = (search.expected_mm - centre()) / on_.pitch_mm;
    for (int j = -count(1); j <= count(1); ++j)
      for (int i = -count(0); i <= count(0); ++i) {
        const int column = static_cast<int>(std::lround(middle.x())) + i;
        const int row = static_cast<int>(std::lround(middle.y())) + j;
        const Vector2d uv = centre() + on_.pitch_mm * Vector2d(column, row);
        if (from && (uv - *from).norm() < keep_off_mm) continue;
        const double score = static_cast<double>(
            scores((row + 4 * scores.rows) % scores.rows, (column + 4 * scores.cols) % scores.cols));
        if (std::abs(score) > std::abs(best.score)) best = {uv, turn, score};
      }
  }
  return best;
}

const cv::Mat1f& PeakFinder::scores_of(double turn, const Eigen::Vector2i& mirror) {
  for (const Known& known : known_)
    if (known.turn == turn && known.mirror == mirror) return known.scores;
  const cv::Mat1f whole = laid(on_, ink_, {centre(), turn, mirror});
  const cv::Mat2f plain = texture_.spectrum(whole);
  const cv::Mat2f pattern = spectrum_times(plain, left_);
  const double energy = std::max(texture_.inner(pattern, pattern), 1e-12);
  cv::Mat1f scores = texture_.correlation(spectrum_, pattern) / std::sqrt(energy);
  const cv::Mat1f seen = seen_share(texture_, seen_spectrum_, plain, cv::sum(whole)[0]);
  for (int row = 0; row < scores.rows; ++row)
    for (int column = 0; column < scores.cols; ++column) {
      const float share = seen(row, column);
      scores(row, column) = share < kLeastSeen ? 0.0F : scores(row, column) / std::sqrt(std::min(share, 1.0F));
    }
  known_.push_back({turn, mirror, scores});
  return known_.back().scores;
}

}  // namespace jigtrue
