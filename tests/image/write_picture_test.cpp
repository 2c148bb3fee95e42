#include "jigtrue/image/write_picture.hpp"

#include "jigtrue/image/read_photo.hpp"
#include "support/temporary_folder.hpp"

#include <random>
#include <stdexcept>

#include "image/photo_files.hpp"
#include <gtest/gtest.h>
#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

Photo grey_photo(int columns, int rows) {
  Photo photo;
  photo.luma.create(rows, columns);
  std::mt19937 random(7u);
  for (unsigned char& level : photo.luma) level = static_cast<unsigned char>(random() % 256);
  return photo;
}

// The mean of the luma under one pixel of the picture, straight from the definition.
double mean_under(const cv::Mat1b& luma, int x, int y, double step) {
  double sum = 0.0;
  double area = 0.0;
  for (int v = static_cast<int>(y * step); v < luma.rows && v < (y + 1) * step; ++v) {
    for (int u = static_cast<int>(x * step); u < luma.cols && u < (x + 1) * step; ++u) {
      const double across = std::min(u + 1.0, (x + 1) * step) - std::max<double>(u, x * step);
      const double down = std::min(v + 1.0, (y + 1) * step) - std::max<double>(v, y * step);
      sum += across * down * luma(v, u);
      area += across * down;
    }
  }
  return sum / area;
}

TEST(Shrink, AveragesAreas) {
  const Photo photo = grey_photo(300, 203);
  for (const int side : {299, 211, 150, 100, 37}) {
    const ShrunkPicture picture = shrink(photo, side);
    EXPECT_EQ(picture.bgr.cols, side);
    EXPECT_DOUBLE_EQ(picture.scale, side / 300.0);
    const double step = 1.0 / picture.scale;
    // Half a level of rounding. Weights down a column are rounded to 1/512 of the whole at each of the n - 1 borders
    // between n rows, and each such error moves weight between two neighbours, up to 255 levels apart; 1/8192 across
    // likewise.
    const double borders = std::ceil(step);
    const double tolerance = 0.5 + borders * 255.0 / 512.0 + borders * 255.0 / 8192.0;
    for (int y = 0; y < picture.bgr.rows; ++y) {
      for (int x = 0; x < picture.bgr.cols; ++x) {
        ASSERT_NEAR(picture.bgr(y, x)[0], mean_under(photo.luma, x, y, step), tolerance)
            << side << ": " << x << ", " << y;
      }
    }
  }
}

TEST(Shrink, KeepsAFlatPhotoFlat) {
  Photo photo;
  photo.luma = cv::Mat1b(417, 633, static_cast<unsigned char>(201));
  photo.cb = cv::Mat1b(209, 317, static_cast<unsigned char>(128));
  photo.cr = photo.cb;
  for (const int side : {1, 2, 100, 500, 632, 633, 5000}) {
    const ShrunkPicture picture = shrink(photo, side);
    EXPECT_EQ(cv::norm(picture.bgr, cv::Mat3b(picture.bgr.size(), cv::Vec3b(201, 201, 201)), cv::NORM_INF), 0.0)
        << side;
  }
}

TEST(Shrink, NeverEnlarges) {
  const Photo photo = grey_photo(90, 70);
  const ShrunkPicture picture = shrink(photo, 1000);
  EXPECT_EQ(picture.scale, 1.0);
  cv::Mat1b blue;
  cv::extractChannel(picture.bgr, blue, 0);
  EXPECT_EQ(cv::norm(blue, photo.luma, cv::NORM_INF), 0.0);
}

TEST(Shrink, GivesColoursBack) {
  Photo photo;
  photo.luma = cv::Mat1b(100, 200, static_cast<unsigned char>(76));  // JFIF of (255, 0, 0): 76.2, 85.0, 255.5
  photo.cb = cv::Mat1b(50, 100, static_cast<unsigned char>(85));
  photo.cr = cv::Mat1b(50, 100, static_cast<unsigned char>(255));
  const cv::Vec3b bgr = shrink(photo, 64).bgr(10, 10);
  // half a level of rounding in each plane grows by 1.772 at the most on the way back, and is rounded again
  EXPECT_NEAR(bgr[0], 0, 2);
  EXPECT_NEAR(bgr[1], 0, 2);
  EXPECT_NEAR(bgr[2], 255, 2);
}

TEST(EncodePng, ComesBackAsItWas) {
  const test::TemporaryFolder folder;
  const cv::Mat3b bgr = test::test_picture(101, 75);
  test::put_bytes(folder / "a", encode_png(bgr));
  cv::Mat3b rgb;
  cv::mixChannels(std::vector<cv::Mat>{bgr}, std::vector<cv::Mat>{rgb = cv::Mat3b(bgr.size())}, {0, 2, 1, 1, 2, 0});
  test::put_bytes(folder / "b", test::png_bytes(rgb));
  const Photo a = read_photo(folder / "a");
  const Photo b = read_photo(folder / "b");
  EXPECT_EQ(cv::norm(a.luma, b.luma, cv::NORM_INF), 0.0);
  EXPECT_EQ(cv::norm(a.cb, b.cb, cv::NORM_INF), 0.0);
  EXPECT_EQ(cv::norm(a.cr, b.cr, cv::NORM_INF), 0.0);
}

TEST(EncodeJpeg, ComesBackInSizeAndColour) {
  const test::TemporaryFolder folder;
  const cv::Mat3b bgr(80, 120, cv::Vec3b(30, 60, 200));
  test::put_bytes(folder / "a", encode_jpeg(bgr, 95));
  const Photo photo = read_photo(folder / "a");
  EXPECT_EQ(photo.luma.size(), bgr.size());
  // JFIF of (200, 60, 30) is 98.4, 89.4, 200.5. Quality 95 stores a flat field in steps of 2 / 8 level (luma) and 2 / 8
  // (chroma): with the two roundings that is off by 1 at the most.
  EXPECT_NEAR(photo.luma(40, 60), 98.4, 1.2);
  EXPECT_NEAR(photo.cb(20, 30), 89.4, 1.2);
  EXPECT_NEAR(photo.cr(20, 30), 200.5, 1.2);
  EXPECT_LT(encode_jpeg(bgr, 40).size(), encode_jpeg(test::test_picture(120, 80), 95).size());
}

TEST(EncodePicture, AnEmptyPictureIsAProgrammersMistake) {
  EXPECT_THROW(static_cast<void>(encode_jpeg({})), std::logic_error);
  EXPECT_THROW(static_cast<void>(encode_png({})), std::logic_error);
  EXPECT_THROW(static_cast<void>(encode_jpeg(cv::Mat3b(2, 2), 0)), std::logic_error);
  EXPECT_THROW(static_cast<void>(shrink({}, 10)), std::logic_error);
  EXPECT_THROW(static_cast<void>(shrink(grey_photo(10, 10), 0)), std::logic_error);
}

}  // namespace
}  // namespace jigtrue
