#include "jigtrue/detection/strip.hpp"

#include "jigtrue/detection/row_mean.hpp"
#include "support/seeded_by_name.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// Grey levels that grow by 2 a column and 3 a row: bilinear reading gives a plane back exactly.
cv::Mat1b plane_picture(int width, int height) {
  cv::Mat1b picture(height, width);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) picture(y, x) = static_cast<unsigned char>(10 + 2 * x + 3 * y);
  return picture;
}

OutlineSample sample_at(const Vector2d& px, double direction_rad) {
  OutlineSample sample;
  sample.px = px;
  sample.normal_px = {std::cos(direction_rad), std::sin(direction_rad)};
  return sample;
}

TEST(Strip, ReadsAPlaneOfLightAsItIs) {
  Photo photo;
  photo.luma = plane_picture(40, 30);
  const std::vector<OutlineSample> samples = {sample_at({17.3, 14.6}, 0.4), sample_at({20.0, 12.0}, -2.1)};
  const Strip strip = sample_strip(photo, samples, -6.0, 5.0, 0.5);
  ASSERT_EQ(strip.columns, 23);
  for (int i = 0; i < strip.rows; ++i) {
    for (int j = 0; j < strip.columns; ++j) {
      const OutlineSample& sample = samples[static_cast<std::size_t>(i)];
      const Vector2d px = sample.px + strip.position_px(j) * sample.normal_px;
      // single precision of values below 256
      EXPECT_NEAR(strip.row(0, i)[j], 10.0 + 2.0 * px.x() + 3.0 * px.y(), 1e-4) << i << " " << j;
    }
  }
}

TEST(Strip, GoesOnBeyondTheRimWithTheNearestPixels) {
  Photo photo;
  photo.luma = plane_picture(40, 30);
  const Strip strip = sample_strip(photo, {sample_at({2.0, 10.0}, kPi)}, 0.0, 6.0, 1.0);
  for (int j = 0; j < strip.columns; ++j)
    EXPECT_NEAR(strip.row(0, 0)[j], 40.0 + 2.0 * std::max(2.0 - j, 0.0), 1e-3) << j;
}

TEST(Strip, ReadsChromaOfHalfTheSizeAtTheSamePlace) {
  Photo photo;
  photo.luma = plane_picture(80, 60);
  photo.cb = plane_picture(40, 30);
  photo.cr = plane_picture(40, 30);
  const OutlineSample sample = sample_at({33.0, 25.0}, 1.0);
  const Strip strip = sample_strip(photo, {sample}, -4.0, 4.0, 0.5);
  for (int j = 0; j < strip.columns; ++j) {
    const Vector2d px = sample.px + strip.position_px(j) * sample.normal_px;
    const double expected = 10.0 + 2.0 * ((px.x() + 0.5) / 2.0 - 0.5) + 3.0 * ((px.y() + 0.5) / 2.0 - 0.5) - 128.0;
    EXPECT_NEAR(strip.row(1, 0)[j], expected, 1e-4) << j;
    EXPECT_NEAR(strip.row(2, 0)[j], expected, 1e-4) << j;
  }
}

// Half of 81 px is stored as 41: the last column of the chroma covers one column of the picture, not less of every one.
TEST(Strip, ReadsChromaOfAnOddPictureAtTheSamePlace) {
  Photo photo;
  photo.luma = plane_picture(81, 61);
  photo.cb = plane_picture(41, 31);
  photo.cr = plane_picture(41, 31);
  for (const double lead_px : {0.0, 1.0}) {  // as stored, and turned by half
    photo.chroma.lead_px = {lead_px, lead_px};
    const OutlineSample sample = sample_at({70.0, 50.0}, 1.0);
    const Strip strip = sample_strip(photo, {sample}, -4.0, 4.0, 0.5);
    for (int j = 0; j < strip.columns; ++j) {
      const Vector2d px = sample.px + strip.position_px(j) * sample.normal_px;
      const double x = (px.x() + lead_px + 0.5) / 2.0 - 0.5;
      const double y = (px.y() + lead_px + 0.5) / 2.0 - 0.5;
      EXPECT_NEAR(strip.row(1, 0)[j], 10.0 + 2.0 * x + 3.0 * y - 128.0, 1e-4) << j;
    }
  }
}

TEST(RowMean, RefusesAWindowBeyondTheStrip) {
  Strip strip;
  strip.rows = 4;
  strip.columns = 11;
  for (auto& channel : strip.values) channel.assign(44, 0.0F);
  const RowMean mean(strip, 0, 4);
  EXPECT_NO_THROW((void)mean.window(0, 11));
  EXPECT_THROW((void)mean.window(-1, 5), std::logic_error);
  EXPECT_THROW((void)mean.window(7, 5), std::logic_error);
}

// Against the definition, by a library's sort.
TEST(RowMean, IsTheInterquartileMeanOfEveryColumn) {
  auto random = test::seeded_by_name();
  std::normal_distribution<float> grey(100.0F, 12.0F);
  for (int n = 2; n <= 70; ++n) {
    Strip strip;
    strip.rows = n + 3;
    strip.columns = 11;
    for (auto& channel : strip.values) {
      channel.resize(static_cast<std::size_t>(strip.rows) * static_cast<std::size_t>(strip.columns));
      for (float& value : channel) value = std::round(grey(random));  // with equal values among them
    }
    const MeanProfile mean = RowMean(strip, 2, 2 + n).window(3, 5);
    const int cut = n / 4;
    const double kept = n - 2 * cut;
    for (int c = 0; c < kChannels; ++c) {
      double scatter = 0.0;
      for (int j = 0; j < 5; ++j) {
        std::vector<double> column;
        for (int i = 2; i < 2 + n; ++i) column.push_back(static_cast<double>(strip.row(c, i)[3 + j]));
        std::sort(column.begin(), column.end());
        const double sum = std::accumulate(column.begin() + cut, column.end() - cut, 0.0);
        EXPECT_NEAR(mean.values[static_cast<std::size_t>(c)][static_cast<std::size_t>(j)], sum / kept, 1e-9);
        scatter += (column[static_cast<std::size_t>(n - 1 - cut)] - column[static_cast<std::size_t>(cut)]) / 1.349;
      }
      // no more than the quartiles say
      const double noise = mean.noise[static_cast<std::size_t>(c)];
      EXPECT_GE(noise, 0.0);
      EXPECT_LE(noise, scatter / 5.0 / std::sqrt(kept) + 1e-9);
    }
  }
}

}  // namespace
}  // namespace jigtrue
