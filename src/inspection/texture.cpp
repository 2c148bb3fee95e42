#include "inspection/texture.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

cv::Mat2f transform(const cv::Mat1f& picture) {
  cv::Mat2f spectrum;
  cv::dft(picture, spectrum, cv::DFT_COMPLEX_OUTPUT);
  return spectrum;
}

cv::Mat1f back(const cv::Mat2f& spectrum) {
  cv::Mat1f picture;
  cv::dft(spectrum, picture, cv::DFT_INVERSE | cv::DFT_SCALE | cv::DFT_REAL_OUTPUT);
  return picture;
}

cv::Mat2f times_real(const cv::Mat2f& spectrum, const cv::Mat1f& real) {
  cv::Mat2f out(spectrum.size());
  for (int row = 0; row < spectrum.rows; ++row)
    for (int column = 0; column < spectrum.cols; ++column) out(row, column) = spectrum(row, column) * real(row, column);
  return out;
}

cv::Mat1f power(const cv::Mat2f& spectrum) {
  cv::Mat1f out(spectrum.size());
  for (int row = 0; row < spectrum.rows; ++row)
    for (int column = 0; column < spectrum.cols; ++column) {
      const cv::Vec2f& s = spectrum(row, column);
      out(row, column) = s[0] * s[0] + s[1] * s[1];
    }
  return out;
}

cv::Mat1f autocorrelation(const cv::Mat1f& picture) {
  const cv::Mat2f spectrum = transform(picture);
  cv::Mat2f product;
  cv::mulSpectrums(spectrum, spectrum, product, 0, true);
  return back(product);
}

// Hann's window over the lags, which wrap round.
double taper(int lag, int size, int reach) {
  const int distance = std::min(lag, size - lag);
  return distance >= reach ? 0.0 : 0.5 + 0.5 * std::cos(CV_PI * distance / reach);
}

}  // namespace

cv::Mat1f Texture::padded(const cv::Mat1f& picture) const {
  cv::Mat1f out = cv::Mat1f::zeros(size_);
  picture.copyTo(out(cv::Rect(0, 0, picture.cols, picture.rows)));
  return out;
}

Texture::Texture(const cv::Mat1f& residual, const cv::Mat1b& seen, cv::Size reach_px) : picture_(residual.size()) {
  size_ = cv::Size(cv::getOptimalDFTSize(picture_.width + reach_px.width),
                   cv::getOptimalDFTSize(picture_.height + reach_px.height));
  cv::Mat1f weight;
  seen.convertTo(weight, CV_32F, 1.0 / 255.0);
  const cv::Mat1f lag_sum = autocorrelation(padded(residual.mul(weight)));
  const cv::Mat1f pairs = autocorrelation(padded(weight));
  const double total = std::max(static_cast<double>(pairs(0, 0)), 1.0);
  cv::Mat1f covariance(size_);
  for (int row = 0; row < size_.height; ++row)
    for (int column = 0; column < size_.width; ++column) {
      const double w = taper(row, size_.height, reach_px.height) * taper(column, size_.width, reach_px.width);
      const double n = std::max(static_cast<double>(pairs(row, column)), 0.05 * total);
      covariance(row, column) = static_cast<float>(w * static_cast<double>(lag_sum(row, column)) / n);
    }
  const cv::Mat2f spectrum = transform(covariance);
  // A tapered estimate may fall below zero where there is next to no power: rounding and the sensor leave some.
  const double floor = std::max(0.02 * static_cast<double>(covariance(0, 0)), 1e-12);
  inverse_power_.create(size_);
  for (int row = 0; row < size_.height; ++row)
    for (int column = 0; column < size_.width; ++column)
      inverse_power_(row, column) =
          static_cast<float>(1.0 / std::max(static_cast<double>(spectrum(row, column)[0]), floor));
}

cv::Mat2f Texture::spectrum(const cv::Mat1f& picture) const { return transform(padded(picture)); }

cv::Mat1f Texture::whitened(const cv::Mat1f& picture) const {
  cv::Mat1f root;
  cv::sqrt(inverse_power_, root);
  return back(times_real(spectrum(picture), root));
}

double Texture::inner(const cv::Mat2f& a, const cv::Mat2f& b) const {
  double sum = 0.0;
  for (int row = 0; row < size_.height; ++row) {
    const cv::Vec2f* pa = a[row];
    const cv::Vec2f* pb = b[row];
    const float* weight = inverse_power_[row];
    float line = 0.0F;
    for (int column = 0; column < size_.width; ++column)
      line += weight[column] * (pa[column][0] * pb[column][0] + pa[column][1] * pb[column][1]);
    sum += static_cast<double>(line);
  }
  return sum / (static_cast<double>(size_.width) * size_.height);
}

cv::Mat1f Texture::correlation(const cv::Mat2f& picture, const cv::Mat2f& pattern) const {
  cv::Mat2f product;
  cv::mulSpectrums(picture, pattern, product, 0, true);
  return back(times_real(product, inverse_power_));
}

double Texture::variance_of_sum(const cv::Mat1f& picture) const {
  const cv::Mat1f p = power(spectrum(picture));
  double sum = 0.0;
  for (int row = 0; row < size_.height; ++row)
    for (int column = 0; column < size_.width; ++column)
      sum += static_cast<double>(p(row, column)) / static_cast<double>(inverse_power_(row, column));
  return sum / (static_cast<double>(size_.width) * size_.height);
}

}  // namespace jigtrue
