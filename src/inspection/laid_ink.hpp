// A drawing laid on an unrolled blank.
#pragma once
#include "jigtrue/inspection/ink_raster.hpp"
#include "jigtrue/inspection/unrolled.hpp"

#include <array>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Where the drawing lies: its centre and direction in the unrolled frame.
struct MarkPose {
  Vector2d uv_mm = Vector2d::Zero();
  double turn_rad = 0.0;
  Eigen::Vector2i mirror = {1, 1};
};

// Coverage by ink at each pixel.
[[nodiscard]] cv::Mat1f laid(const Unrolled& on, const InkRaster& ink, const MarkPose& pose);

// How a pattern changes, per mm, as it moves along u and along v.
[[nodiscard]] std::array<cv::Mat1f, 2> shift_slopes(const cv::Mat1f& pattern, double pitch_mm);

// 1 where something is seen, 0 elsewhere.
[[nodiscard]] cv::Mat1f weight_of(const cv::Mat1b& seen);

// Where the drawing's ink is, and so far around it.
[[nodiscard]] cv::Mat1b widened(const cv::Mat1f& pattern, double by_mm, double pitch_mm);

}  // namespace jigtrue
