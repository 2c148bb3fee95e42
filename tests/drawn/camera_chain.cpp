#include "drawn/camera_chain.hpp"

#include "jigtrue/image/write_picture.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace jigtrue::test {
namespace {

float srgb(float linear) {
  const float x = std::clamp(linear, 0.0F, 1.0F);
  return x <= 0.0031308F ? 12.92F * x : 1.055F * std::pow(x, 1.0F / 2.4F) - 0.055F;
}

// Through 0, 1/2 and 1; steepest in the middle, where its slope is 1 + contrast.
float curved(float x, float contrast) {
  const float from_middle = 2.0F * x - 1.0F;
  const float bend = from_middle * (1.0F - from_middle * from_middle);
  return x + 0.5F * contrast * bend;
}

cv::Mat1f filtered(const cv::Mat1f& raw, const cv::Mat1f& eighths) {
  cv::Mat1f result;
  // mirrored about the last row and column, the mosaic goes on as it was
  cv::filter2D(raw, result, CV_32F, eighths / 8.0, {-1, -1}, 0.0, cv::BORDER_REFLECT_101);
  return result;
}

}  // namespace

cv::Mat3f through_lens(const cv::Mat3f& light, double middle_px, double corner_px) {
  // a few blurs, and between two of them a mixture, which has the variance between theirs
  constexpr int kBlurs = 6;
  const double least = middle_px * middle_px;
  const double most = corner_px * corner_px;
  std::vector<cv::Mat3f> blurred(kBlurs);
  for (int i = 0; i < kBlurs; ++i)
    cv::GaussianBlur(light, blurred[static_cast<std::size_t>(i)], {},
                     std::max(std::sqrt(least + (most - least) * i / (kBlurs - 1.0)), 0.01), 0.0,
                     cv::BORDER_REFLECT_101);
  cv::Mat3f picture(light.size());
  const double cx = 0.5 * (light.cols - 1);
  const double cy = 0.5 * (light.rows - 1);
  for (int r = 0; r < light.rows; ++r) {
    for (int c = 0; c < light.cols; ++c) {
      const double share = ((c - cx) * (c - cx) + (r - cy) * (r - cy)) / std::max(cx * cx + cy * cy, 1.0);
      const double place = share * (kBlurs - 1);
      const auto i = std::min(static_cast<std::size_t>(place), static_cast<std::size_t>(kBlurs - 2));
      const auto t = static_cast<float>(place - static_cast<double>(i));
      picture(r, c) = (1.0F - t) * blurred[i](r, c) + t * blurred[i + 1](r, c);
    }
  }
  return picture;
}

cv::Mat1f mosaic(const cv::Mat3f& light) {
  cv::Mat1f raw(light.size());
  for (int r = 0; r < raw.rows; ++r)
    for (int c = 0; c < raw.cols; ++c) raw(r, c) = light(r, c)[r % 2 != c % 2 ? 1 : (r % 2 == 0 ? 2 : 0)];
  return raw;
}

cv::Mat1f exposed(const cv::Mat1f& raw, double electrons_full, double read_electrons, std::uint32_t seed) {
  cv::Mat1f noise(raw.size());
  cv::RNG random(seed);
  random.fill(noise, cv::RNG::NORMAL, 0.0, 1.0);
  cv::Mat1f result(raw.size());
  for (int r = 0; r < raw.rows; ++r)
    for (int c = 0; c < raw.cols; ++c) {
      const double electrons = electrons_full * std::max(static_cast<double>(raw(r, c)), 0.0);
      const double sigma = std::sqrt(electrons + read_electrons * read_electrons);
      result(r, c) =
          static_cast<float>(std::min((electrons + sigma * static_cast<double>(noise(r, c))) / electrons_full, 1.0));
    }
  return result;
}

cv::Mat3f demosaicked(const cv::Mat1f& raw) {
  // the paper's figure 2, in eighths
  const cv::Mat1f green_at_other =
      (cv::Mat1f(5, 5) << 0, 0, -1, 0, 0, 0, 0, 2, 0, 0, -1, 2, 4, 2, -1, 0, 0, 2, 0, 0, 0, 0, -1, 0, 0);
  const cv::Mat1f beside_in_row =
      (cv::Mat1f(5, 5) << 0, 0, 0.5, 0, 0, 0, -1, 0, -1, 0, -1, 4, 5, 4, -1, 0, -1, 0, -1, 0, 0, 0, 0.5, 0, 0);
  const cv::Mat1f across =
      (cv::Mat1f(5, 5) << 0, 0, -1.5, 0, 0, 0, 2, 0, 2, 0, -1.5, 0, 6, 0, -1.5, 0, 2, 0, 2, 0, 0, 0, -1.5, 0, 0);
  const cv::Mat1f green = filtered(raw, green_at_other);
  const cv::Mat1f in_row = filtered(raw, beside_in_row);
  const cv::Mat1f in_column = filtered(raw, beside_in_row.t());
  const cv::Mat1f diagonal = filtered(raw, across);
  cv::Mat3f picture(raw.size());
  for (int r = 0; r < raw.rows; ++r)
    for (int c = 0; c < raw.cols; ++c) {
      const bool red_row = r % 2 == 0;
      const float own = raw(r, c);
      if (r % 2 != c % 2)  // green: the row's own other colour lies beside, the other one above and below
        picture(r, c) =
            red_row ? cv::Vec3f(in_column(r, c), own, in_row(r, c)) : cv::Vec3f(in_row(r, c), own, in_column(r, c));
      else
        picture(r, c) =
            red_row ? cv::Vec3f(diagonal(r, c), green(r, c), own) : cv::Vec3f(own, green(r, c), diagonal(r, c));
    }
  return picture;
}

cv::Mat3f toned(const cv::Mat3f& light, double contrast) {
  cv::Mat3f picture = light.clone();
  for (cv::Vec3f& pixel : picture)
    for (int i = 0; i < 3; ++i) pixel[i] = curved(srgb(pixel[i]), static_cast<float>(contrast));
  return picture;
}

cv::Mat3f noise_reduced(const cv::Mat3f& encoded, double tone) {
  if (!(tone > 0.0)) return encoded;
  constexpr int kAcross_px = 5;
  constexpr double kSigma_px = 1.5;
  cv::Mat3f picture;
  cv::bilateralFilter(encoded, picture, kAcross_px, tone, kSigma_px);
  return picture;
}

cv::Mat3f sharpened(const cv::Mat3f& encoded, double amount, double sigma_px) {
  if (!(amount > 0.0)) return encoded;
  cv::Mat3f blurred;
  cv::GaussianBlur(encoded, blurred, {}, sigma_px);
  return encoded + amount * (encoded - blurred);
}

std::string jpeg_of(const cv::Mat3f& light, const CameraChain& chain, std::uint32_t seed) {
  const cv::Mat3f seen = through_lens(light, chain.blur_px, chain.corner_blur_px);
  const cv::Mat1f raw = exposed(mosaic(seen), chain.electrons_full, chain.read_electrons, seed);
  const cv::Mat3f tones = noise_reduced(toned(demosaicked(raw), chain.contrast), chain.noise_reduction);
  cv::Mat3b picture;
  sharpened(tones, chain.sharpening, chain.sharpening_px).convertTo(picture, CV_8UC3, 255.0);
  return encode_jpeg(picture, chain.jpeg_quality);
}

}  // namespace jigtrue::test
