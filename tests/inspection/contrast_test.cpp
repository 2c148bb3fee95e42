// Contrast against definitions from outside: light from sRGB's values, and the ratio that a contrast is.
#include "jigtrue/inspection/match_mark.hpp"
#include "jigtrue/inspection/unrolled.hpp"

#include <cmath>

#include "inspection/burned_load.hpp"
#include <gtest/gtest.h>
#include <opencv2/core.hpp>

namespace jigtrue::test {
namespace {

// IEC 61966-2-1:1999: v / 12.92 up to 0.04045, ((v + 0.055) / 1.055)^2.4 above. Worked by hand: 0.5 -> 0.214041,
// 188/255
// -> 0.502886, 10/255 -> 0.00303527.
TEST(Contrast, LightIsWhatTheStandardSays) {
  EXPECT_NEAR(linear_light(127.5), 0.214041, 1e-6);
  EXPECT_NEAR(linear_light(188.0), 0.502886, 1e-6);
  EXPECT_NEAR(linear_light(10.0), 0.00303527, 1e-8);
  EXPECT_EQ(linear_light(0.0), 0.0);
  EXPECT_EQ(linear_light(255.0), 1.0);
}

// The print contrast signal of bar codes, PCS = (R_background - R_bar) / R_background (ANSI X3.182-1990, from memory;
// the Weber fraction of Peli, J. Opt. Soc. Am. A 7(10), 1990, 2032). On an even, unrolled surface whose reflectances
// are 0.6 and 0.6 times a known ratio.
TEST(Contrast, IsThePrintContrastSignalOfKnownReflectances) {
  const auto art = common_art(read_artwork(burned_drawing(), "invented.svg"));
  const InkRaster ink = ink_raster(*art.common, 0.04);
  for (const double ratio : {0.2, 0.5, 0.9, 1.6}) {
    Unrolled on;
    on.pitch_mm = 0.12;
    on.low_mm = {-30.0, -5.0};
    on.px_per_mm = {6.0, 6.0};
    on.light = cv::Mat1f(84, 501, 0.6F);
    on.seen = cv::Mat1b(84, 501, static_cast<unsigned char>(255));
    cv::theRNG().state = 17;
    cv::Mat1f noise(on.light.size());
    cv::randn(noise, 0.0, 0.004);
    const Vector2d centre(0.31, -0.17);
    constexpr int kFine = 4;  // so much finer than the picture, then averaged
    for (int row = 0; row < on.light.rows; ++row)
      for (int column = 0; column < on.light.cols; ++column) {
        int covered = 0;
        for (int k = 0; k < kFine * kFine; ++k) {
          const int sub_row = k / kFine;
          const Vector2d sub((k % kFine + 0.5) / kFine - 0.5, (sub_row + 0.5) / kFine - 0.5);
          covered += has_ink(on.uv(column, row) + on.pitch_mm * sub - centre) ? 1 : 0;
        }
        const double share = covered / double{kFine * kFine};
        on.light(row, column) = static_cast<float>(0.6 * (1.0 - share + share * ratio)) + noise(row, column);
      }
    const auto match = match_mark(on, ink, MarkSearch{});
    ASSERT_TRUE(match);
    EXPECT_NEAR(match->contrast, 1.0 - ratio, 0.01 + 0.01 * std::abs(1.0 - ratio)) << ratio;
    EXPECT_NEAR(match->uv_mm.x(), centre.x(), 0.01) << ratio;
    EXPECT_NEAR(match->uv_mm.y(), centre.y(), 0.01) << ratio;
    EXPECT_NEAR(match->turn_rad, 0.0, 0.001) << ratio;
    EXPECT_LT(chance_of(std::abs(match->peak.score), match->null_scores), 1e-4) << ratio;
  }
}

}  // namespace
}  // namespace jigtrue::test
