// A mark's place by least squares in the whitened picture.
#pragma once
#include <array>
#include <optional>

#include "inspection/bare_ground.hpp"
#include "inspection/laid_ink.hpp"
#include "inspection/texture.hpp"

namespace jigtrue {

// Least squares in the whitened picture: amplitude, u, v, turn.
struct MarkFit {
  MarkPose pose;
  double amplitude = 0.0;
  Eigen::Matrix4d normal = Eigen::Matrix4d::Identity();
};

class MarkFitter {
 public:
  MarkFitter(const Unrolled& on, const Texture& texture, const cv::Mat1f& relative)
      : on_(on),
        texture_(texture),
        weight_(weight_of(on.seen)),
        loss_(weight_, on.pitch_mm),
        data_(texture.spectrum(loss_(relative))) {}

  // Gauss and Newton's steps from `pose`.
  [[nodiscard]] std::optional<MarkFit> fit(const InkRaster& ink, MarkPose pose, int steps) const;

  // What the blank's own texture does to the place: the fit's linear answer to what lies bare, as if the mark lay
  // there, over all shifts that leave half of it there (the larger of this and of what the autocovariance foretells is
  // believed: texture is not the same all over a blank). Variances of u, v and turn; zero where no shift does.
  [[nodiscard]] Vector3d scatter_elsewhere(const InkRaster& ink, const MarkFit& fit, const cv::Mat1f& residual,
                                           const cv::Mat1b& bare) const;

 private:
  const Unrolled& on_;
  const Texture& texture_;
  cv::Mat1f weight_;
  GroundLoss loss_;
  cv::Mat2f data_;

  // Spectra of the pattern and of its slopes by u, v and turn.
  [[nodiscard]] std::array<cv::Mat2f, 4> slopes(const InkRaster& ink, const MarkPose& pose) const;
};

}  // namespace jigtrue
