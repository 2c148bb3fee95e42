// Each step of the drawn camera does what its name says, on pictures whose result is known.
#include "drawn/camera_chain.hpp"

#include "jigtrue/image/read_photo.hpp"
#include "support/temporary_folder.hpp"

#include <cmath>
#include <fstream>

#include "drawn/surface.hpp"
#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

namespace jigtrue::test {
namespace {

const cv::Vec3f kWhite(0.8F, 0.8F, 0.8F);

cv::Mat3f filled(int rows, int cols, const cv::Vec3f& colour) { return cv::Mat3f(rows, cols, colour); }

// A line of light one pixel wide down a dark picture.
cv::Mat3f line_at(int rows, int cols, int column) {
  cv::Mat3f picture = filled(rows, cols, {0.0F, 0.0F, 0.0F});
  picture.col(column).setTo(cv::Scalar(1.0, 1.0, 1.0));
  return picture;
}

// The standard deviation of what a row holds.
double spread_px(const cv::Mat3f& picture, int row) {
  double sum = 0.0;
  double first = 0.0;
  double second = 0.0;
  for (int c = 0; c < picture.cols; ++c) {
    const auto w = static_cast<double>(picture(row, c)[1]);
    sum += w;
    first += w * c;
    second += w * c * c;
  }
  return std::sqrt(second / sum - first * first / (sum * sum));
}

double variance(const cv::Mat& picture) {
  cv::Scalar mean;
  cv::Scalar deviation;
  cv::meanStdDev(picture, mean, deviation);
  return deviation[0] * deviation[0];
}

TEST(CameraChain, TheLensBlursAsAskedInTheMiddleAndInTheCorner) {
  // a line through the middle, and one beside the corner
  EXPECT_NEAR(spread_px(through_lens(line_at(201, 401, 200), 1.5, 3.0), 100), 1.5, 0.02);
  constexpr int kColumn = 380;
  const double share = (180.0 * 180.0 + 100.0 * 100.0) / (200.0 * 200.0 + 100.0 * 100.0);
  EXPECT_NEAR(spread_px(through_lens(line_at(201, 401, kColumn), 1.5, 3.0), 0), std::sqrt(2.25 + (9.0 - 2.25) * share),
              0.1);
}

TEST(CameraChain, AMosaicKeepsOneColourAPixel) {
  const cv::Mat1f raw = mosaic(filled(4, 4, {0.1F, 0.2F, 0.3F}));  // blue, green, red
  EXPECT_FLOAT_EQ(raw(0, 0), 0.3F);
  EXPECT_FLOAT_EQ(raw(0, 1), 0.2F);
  EXPECT_FLOAT_EQ(raw(1, 0), 0.2F);
  EXPECT_FLOAT_EQ(raw(1, 1), 0.1F);
}

TEST(CameraChain, NoiseGrowsWithTheLightAndFullIsFull) {
  constexpr double kFull = 5000.0;
  constexpr double kRead = 4.0;
  for (const double level : {0.0, 0.1, 0.5}) {
    const cv::Mat1f raw = exposed(cv::Mat1f(400, 400, static_cast<float>(level)), kFull, kRead, 3);
    const double expected = (level * kFull + kRead * kRead) / (kFull * kFull);
    // 160,000 draws: the variance is known to a share of sqrt(2 / 160000) = 0.0035; four of it
    EXPECT_NEAR(variance(raw), expected, 0.014 * expected) << level;
  }
  double most = 0.0;
  cv::minMaxLoc(exposed(cv::Mat1f(100, 100, 1.2F), kFull, kRead, 3), nullptr, &most);
  EXPECT_DOUBLE_EQ(most, 1.0);
}

TEST(CameraChain, InterpolationOfTheMosaicKeepsEvenColourAndGreyRamps) {
  const cv::Vec3f colour(0.1F, 0.4F, 0.7F);
  for (const cv::Vec3f& pixel : demosaicked(mosaic(filled(12, 12, colour))))
    for (int i = 0; i < 3; ++i) EXPECT_NEAR(pixel[i], colour[i], 1e-6);
  cv::Mat3f ramp(20, 20);
  for (int r = 0; r < 20; ++r)
    for (int c = 0; c < 20; ++c) {
      const float grey = 0.2F + 0.01F * static_cast<float>(c) + 0.02F * static_cast<float>(r);
      ramp(r, c) = {grey, grey, grey};
    }
  const cv::Mat3f back = demosaicked(mosaic(ramp));
  for (int r = 2; r < 18; ++r)  // a mirror makes no ramp
    for (int c = 2; c < 18; ++c)
      for (int i = 0; i < 3; ++i) EXPECT_NEAR(back(r, c)[i], ramp(r, c)[i], 1e-6);
}

// OpenCV's own interpolation is another one, bilinear: both agree on what is smooth.
TEST(CameraChain, InterpolationOfTheMosaicAgreesWithAnIndependentOne) {
  cv::Mat3f smooth(64, 64);
  for (int r = 0; r < 64; ++r)
    for (int c = 0; c < 64; ++c)
      smooth(r, c) = {0.5F + 0.3F * std::sin(0.05F * static_cast<float>(c)),
                      0.5F + 0.2F * std::cos(0.04F * static_cast<float>(r)), 0.4F + 0.002F * static_cast<float>(r + c)};
  const cv::Mat1f raw = mosaic(smooth);
  cv::Mat1w words;
  raw.convertTo(words, CV_16U, 65535.0);
  cv::Mat3w theirs;
  // the library names the mosaic by its second row
  cv::demosaicing(words, theirs, cv::COLOR_BayerBG2BGR);
  const cv::Mat3f ours = demosaicked(raw);
  for (int r = 3; r < 61; ++r)
    for (int c = 3; c < 61; ++c)
      for (int i = 0; i < 3; ++i) EXPECT_NEAR(ours(r, c)[i], theirs(r, c)[i] / 65535.0, 2e-3);
}

TEST(CameraChain, TheToneCurveKeepsBlackMiddleAndWhiteAndNeverFalls) {
  cv::Mat3f light(1, 257);
  for (int c = 0; c < 257; ++c) light(0, c) = cv::Vec3f::all(static_cast<float>(c) / 256.0F);
  for (const double contrast : {0.0, 0.15, 0.5}) {
    const cv::Mat3f tones = toned(light, contrast);
    EXPECT_NEAR(tones(0, 0)[0], 0.0, 1e-6);
    EXPECT_NEAR(tones(0, 256)[0], 1.0, 1e-6);
    EXPECT_NEAR(toned(filled(1, 1, cv::Vec3f::all(0.2140411F)), contrast)(0, 0)[0], 0.5,
                1e-5);  // half, by the standard's formula
    for (int c = 1; c < 257; ++c) EXPECT_GE(tones(0, c)[0], tones(0, c - 1)[0]);
  }
}

TEST(CameraChain, NoiseReductionSmoothsEvenTonesAndLeavesAStrongEdge) {
  cv::Mat3f noisy(200, 200);
  cv::RNG random(5);
  random.fill(noisy, cv::RNG::NORMAL, 0.5, 0.01);
  EXPECT_LT(variance(noise_reduced(noisy, 0.03)), 0.25 * variance(noisy));
  cv::Mat3f edge = filled(9, 20, kWhite);
  edge.colRange(0, 10).setTo(cv::Scalar(0.2, 0.2, 0.2));
  EXPECT_LT(cv::norm(noise_reduced(edge, 0.03), edge, cv::NORM_INF), 1e-3);
}

TEST(CameraChain, SharpeningLeavesAHaloOfHalfItsAmount) {
  cv::Mat3f edge = filled(9, 60, cv::Vec3f::all(0.7F));
  edge.colRange(0, 30).setTo(cv::Scalar(0.3, 0.3, 0.3));
  const cv::Mat3f sharp = sharpened(edge, 0.6, 2.0);
  // beside the step the blur takes off half the step, less what half a pixel adds: the normal distribution at 0.5 / 2
  const double beyond = 0.6 * 0.4 * 0.5 * std::erfc(0.25 / std::sqrt(2.0));
  EXPECT_NEAR(sharp(4, 30)[0], 0.7 + beyond, 0.004);
  EXPECT_NEAR(sharp(4, 29)[0], 0.3 - beyond, 0.004);
  EXPECT_NEAR(sharp(4, 59)[0], 0.7, 1e-5);
}

TEST(CameraChain, TheFileHoldsChromaAtHalfSize) {
  const TemporaryFolder folder;
  std::ofstream(folder / "photo.jpg", std::ios::binary) << jpeg_of(filled(64, 96, kWhite), {}, 1);
  const Photo photo = read_photo(folder / "photo.jpg");
  EXPECT_EQ(photo.luma.size(), cv::Size(96, 64));
  EXPECT_EQ(photo.cb.size(), cv::Size(48, 32));
}

TEST(CameraChain, MoreLightAndLargerPixelsMakeLessNoise) {
  const TemporaryFolder folder;
  const auto noise_of = [&](double electrons) {
    CameraChain chain;
    chain.electrons_full = electrons;
    std::ofstream(folder / "photo.jpg", std::ios::binary) << jpeg_of(filled(256, 256, cv::Vec3f::all(0.2F)), chain, 1);
    return variance(read_photo(folder / "photo.jpg").luma);
  };
  EXPECT_GT(noise_of(1000.0), 2.0 * noise_of(20000.0));
}

std::string pattern_of_two_pixels() {
  std::string bytes;
  for (const unsigned word : {26U, 1U, 2U, 1U, 3U, 0x47504154U})
    for (int shift = 24; shift >= 0; shift -= 8)
      bytes += static_cast<char>(word >> static_cast<unsigned>(shift) & 255U);
  bytes += std::string("a\0", 2);
  return bytes + std::string("\xff\x80\x80\x00\x80\x80", 6);
}

TEST(SurfacePattern, IsReadAsAShareOfItsMeanAndRepeats) {
  const Surface surface = surface_of_pattern(pattern_of_two_pixels(), 2.0);
  EXPECT_NEAR(surface.at({0.0, 0.0}).x(), 2.0, 1e-6);  // red: all in one of the two
  EXPECT_NEAR(surface.at({0.5, 0.0}).x(), 0.0, 1e-6);
  EXPECT_NEAR(surface.at({0.25, 0.0}).x(), 1.0, 1e-6);
  EXPECT_NEAR(surface.at({-1.0, 7.0}).x(), 2.0, 1e-6);
  EXPECT_NEAR(surface.at({0.3, 0.0}).y(), 1.0, 1e-6);
}

TEST(SurfacePattern, ThatIsCutShortIsRefused) {
  std::string bytes = pattern_of_two_pixels();
  EXPECT_THROW((void)surface_of_pattern(bytes.substr(0, bytes.size() - 1), 2.0), std::runtime_error);
  EXPECT_THROW((void)surface_of_pattern("GPAT", 2.0), std::runtime_error);
}

TEST(SurfacePattern, OfEachKindIsThere) {
  if (!std::filesystem::exists(surfaces_folder())) GTEST_SKIP() << "no surfaces: install gimp-data";
  for (const char* name : {"Wood/wood5", "Wood/walnut", "Wood/wood1", "Animal/leather", "Stone/slate"}) {
    const auto surface = read_surface(name, 10.0);
    ASSERT_NE(surface, nullptr) << name;
    EXPECT_GE(surface->factor.cols, 50) << name;
  }
}

}  // namespace
}  // namespace jigtrue::test
