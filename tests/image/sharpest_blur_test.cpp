// The blur of a picture of steps that were blurred by a known amount.
#include "jigtrue/image/sharpest_blur.hpp"

#include <cmath>

#include <gtest/gtest.h>
#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

// Bars 60 px wide, their edges blurred by sigma, a little slanted, with a soft shadow beside.
cv::Mat1b bars(double sigma_px, double levels = 110.0, double shadow_levels = 30.0) {
  cv::Mat1b picture(512, 512);
  for (int y = 0; y < picture.rows; ++y) {
    for (int x = 0; x < picture.cols; ++x) {
      double value = 60.0;
      for (int edge = 40; edge < 480; edge += 60) {
        const double at = x - edge - 0.05 * y;
        value += (edge / 60 % 2 == 0 ? 0.5 : -0.5) * levels * (1.0 + std::erf(at / (std::sqrt(2.0) * sigma_px)));
      }
      value += 0.5 * shadow_levels * std::erf((y - 300.0) / 12.0);
      picture(y, x) = cv::saturate_cast<unsigned char>(value);
    }
  }
  return picture;
}

TEST(SharpestBlur, IsWhatTheStepsWereBlurredBy) {
  for (const double sigma_px : {0.8, 1.5, 2.4, 4.0, 7.0}) {
    const auto blur = sharpest_blur_px(bars(sigma_px), {cv::Rect(20, 20, 470, 470)});
    ASSERT_TRUE(blur) << sigma_px;
    // it decides by how much a picture is shrunk, in whole pixels: a sixth is near enough
    EXPECT_NEAR(*blur, sigma_px, sigma_px / 6.0);
  }
}

// What is fine and faint, as grain and noise are, says nothing of the lens: on photographs it is everywhere.
TEST(SharpestBlur, IsToldByPlainEdgesBesideFineTexture) {
  cv::Mat1b picture = bars(2.0);
  cv::Mat1f grain(picture.size());
  cv::RNG random(5);
  random.fill(grain, cv::RNG::NORMAL, 0.0, 5.0);
  cv::Mat1f lit;
  picture.convertTo(lit, CV_32F);
  cv::Mat1f(lit + grain).convertTo(picture, CV_8U);
  const auto blur = sharpest_blur_px(picture, {cv::Rect(0, 0, 512, 512)});
  ASSERT_TRUE(blur);
  // noise makes the steepest of a few steps steeper: by its sigma of two pixels' difference, of a step of 20 levels
  EXPECT_NEAR(*blur, 2.0, 2.0 * (1.28 * 5.0 * std::sqrt(2.0) / 20.0 + 1.0 / 6.0));
}

// Wood on a ground nearly as light, and the soft shadow beside it that is darker than either.
TEST(SharpestBlur, OfFaintEdgesIsNotThatOfTheShadowBeside) {
  const auto blur = sharpest_blur_px(bars(1.0, 30.0, 100.0), {cv::Rect(20, 20, 470, 470)});
  ASSERT_TRUE(blur);
  EXPECT_NEAR(*blur, 1.0, 1.0 / 6.0);
}

TEST(SharpestBlur, IsNotToldWithoutEdges) {
  EXPECT_FALSE(sharpest_blur_px(cv::Mat1b(300, 300, static_cast<unsigned char>(90)), {cv::Rect(0, 0, 300, 300)}));
  EXPECT_FALSE(sharpest_blur_px(bars(1.0), {}));
}

}  // namespace
}  // namespace jigtrue
