// A drawing's peak in a picture by the matched filter, over shifts and turns.
#pragma once
#include "jigtrue/inspection/match_mark.hpp"

#include <optional>
#include <vector>

#include "inspection/laid_ink.hpp"
#include "inspection/texture.hpp"

namespace jigtrue {

// Which shifts leave how much of a pattern where something is seen.
[[nodiscard]] cv::Mat1f seen_share(const Texture& texture, const cv::Mat2f& seen, const cv::Mat2f& pattern,
                                   double pattern_sum);

// The peak of a pattern within a window of shifts, on a picture whose ground was taken off. Where part of the pattern
// would lie where nothing is to be seen, it is judged by the rest.
class PeakFinder {
 public:
  PeakFinder(const Unrolled& on, const InkRaster& ink, const Texture& texture, const cv::Mat1f& picture,
             const cv::Mat1b& seen);

  // `keep_off_mm`: shifts nearer than this to `from` are passed over.
  [[nodiscard]] MarkPeak find(const MarkSearch& search, const Eigen::Vector2i& mirror,
                              const std::optional<Vector2d>& from = std::nullopt, double keep_off_mm = 0.0);

 private:
  static constexpr float kLeastSeen = 0.3F;  // share of a pattern that must be seen for a score

  const Unrolled& on_;
  const InkRaster& ink_;
  const Texture& texture_;
  cv::Mat2f spectrum_;
  cv::Mat2f seen_spectrum_;
  cv::Mat1f left_;  // by the averaging of the ground, of each frequency
  struct Known {
    double turn = 0.0;
    Eigen::Vector2i mirror;
    cv::Mat1f scores;
  };
  std::vector<Known> known_;

  // The pattern is laid once at the frame's middle, then shifted.
  [[nodiscard]] Vector2d centre() const { return on_.uv(on_.light.cols / 2, on_.light.rows / 2); }

  const cv::Mat1f& scores_of(double turn, const Eigen::Vector2i& mirror);
};

}  // namespace jigtrue
