// The bare ground of an unrolled blank: its light, which a mark is darker or paler than, and what glare hides of it.
#pragma once
#include "jigtrue/inspection/unrolled.hpp"

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// A lamp's reflection runs along a round blank, and hides what was burned under it. A matte cylinder's light varies by
// less than twice its median over the sixty degrees to either side that are looked at; a line along the axis of which
// half is brighter reflects. A mark, be it ever so pale, covers no line by half.
[[nodiscard]] Unrolled without_glare(const Unrolled& given);

// Light over the ground's, less 1, where the ground can be told.
[[nodiscard]] cv::Mat1f relative_light(const Unrolled& on, const cv::Mat1f& ground_weight);

// Mean of a picture's neighbourhood by weights: along the axis, and a little across.
class GroundMean {
 public:
  GroundMean(cv::Mat1f weight, double pitch_mm);
  [[nodiscard]] cv::Mat1f operator()(const cv::Mat1f& picture) const;

 private:
  cv::Mat1f weight_;
  cv::Mat1f norm_;  // of the weights themselves
  double pitch_mm_;
};

// What is left of a picture once the ground could follow it: less its neighbourhood's mean. The ground under the ink is
// guessed from what lies bare beside it; where mark and texture both go through this, what that guess does to the
// mark's place is counted.
class GroundLoss {
 public:
  GroundLoss(const cv::Mat1f& weight, double pitch_mm);
  [[nodiscard]] cv::Mat1f operator()(const cv::Mat1f& picture) const;

 private:
  cv::Mat1f weight_;
  GroundMean mean_;
};

// What the averaging of the ground leaves of a pattern: 1 less the transform of its kernel, over the padded spectrum.
[[nodiscard]] cv::Mat1f left_by_ground(const cv::Size& padded, double pitch_mm);

}  // namespace jigtrue
