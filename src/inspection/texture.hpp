// What a surface's own texture looks like to a matched filter: its autocovariance, and what whitens it. Private.
#pragma once
#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Pictures of one size, padded for the transform; spectra are OpenCV's two-channel ones.
class Texture {
 public:
  // From the residual where `seen`: its autocovariance there (Wiener-Khinchin, corrected for the shape of what is
  // seen), tapered to `reach_px` columns and rows, beyond which too few pairs tell it.
  Texture(const cv::Mat1f& residual, const cv::Mat1b& seen, cv::Size reach_px);

  [[nodiscard]] cv::Mat2f spectrum(const cv::Mat1f& picture) const;
  // Sum over pixels of one whitened picture times another, by their spectra.
  [[nodiscard]] double inner(const cv::Mat2f& a, const cv::Mat2f& b) const;
  [[nodiscard]] cv::Mat1f whitened(const cv::Mat1f& picture) const;  // unit variance a pixel if it is this texture
  // inner(pattern shifted by (column, row), picture) for every shift, both modulo the padded size.
  [[nodiscard]] cv::Mat1f correlation(const cv::Mat2f& picture, const cv::Mat2f& pattern) const;
  // Of the sum of the texture times this picture.
  [[nodiscard]] double variance_of_sum(const cv::Mat1f& picture) const;
  [[nodiscard]] cv::Size padded() const { return size_; }

 private:
  cv::Size picture_;
  cv::Size size_;
  cv::Mat1f inverse_power_;  // of the noise, a real spectrum
  [[nodiscard]] cv::Mat1f padded(const cv::Mat1f& picture) const;
};

}  // namespace jigtrue
