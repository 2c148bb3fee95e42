// What a camera makes of light: each step between the lens and the JPEG file, as ordinary cameras and phones take them.
// Pictures are BGR floats in linear light, 1 where the sensor is full, unless they are said to be something else.
#pragma once
#include <cstdint>
#include <string>

#include <opencv2/core/mat.hpp>

namespace jigtrue::test {

struct CameraChain {
  double blur_px = 0.8;           // Gaussian sigma in the middle of the picture
  double corner_blur_px = 1.2;    // and in its corners
  double electrons_full = 6000;   // that a full pixel holds: a phone's small pixel; a large one some 40,000
  double read_electrons = 3.0;    // noise of reading one pixel
  double noise_reduction = 0.01;  // how far two tones may lie apart and still be averaged, encoded 0 to 1; 0: none
  double sharpening = 0.5;        // share of what an unsharp mask takes out that is added again
  double sharpening_px = 1.2;     // the mask's sigma
  double contrast = 0.15;         // of the tone curve, 0 to 0.5
  int jpeg_quality = 85;
};

// Blurs by a Gaussian whose variance grows with the square of the distance from the middle.
[[nodiscard]] cv::Mat3f through_lens(const cv::Mat3f& light, double middle_px, double corner_px);

// One colour a pixel: red at even rows and columns, blue at odd ones, green between (Bayer, US patent 3971065).
[[nodiscard]] cv::Mat1f mosaic(const cv::Mat3f& light);

// Photons come one by one (variance = mean, here as a normal distribution), reading adds its own; a pixel fills up
// at 1.
[[nodiscard]] cv::Mat1f exposed(const cv::Mat1f& raw, double electrons_full, double read_electrons, std::uint32_t seed);

// The two missing colours of each pixel: linear interpolation corrected by the own colour's curvature (Malvar, He &
// Cutler, ICASSP 2004).
[[nodiscard]] cv::Mat3f demosaicked(const cv::Mat1f& raw);

// sRGB (IEC 61966-2-1) and a curve about the middle tone that leaves black, middle and white where they are. 0 to 1.
[[nodiscard]] cv::Mat3f toned(const cv::Mat3f& light, double contrast);

// Averages neighbours of nearly the same tone (bilateral filter; Tomasi & Manduchi, ICCV 1998). Encoded, 0 to 1.
[[nodiscard]] cv::Mat3f noise_reduced(const cv::Mat3f& encoded, double tone);

// Unsharp mask: what a blur of `sigma_px` takes away is added again, `amount` times; it leaves a halo along edges.
[[nodiscard]] cv::Mat3f sharpened(const cv::Mat3f& encoded, double amount, double sigma_px);

// All of it; the file has chroma at half size each way.
[[nodiscard]] std::string jpeg_of(const cv::Mat3f& light, const CameraChain& chain, std::uint32_t seed);

}  // namespace jigtrue::test
