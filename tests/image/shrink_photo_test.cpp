// A photo made coarser shows the same things at the places that it says.
#include "jigtrue/image/shrink_photo.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// Grey levels that rise evenly to the right and downwards: an average of pixels is the level at their middle.
constexpr double kRight = 1.1;
constexpr double kDown = 0.7;
double level_at(double x, double y) { return 20.0 + kRight * x + kDown * y; }

cv::Mat1b ramp(int columns, int rows, double px_covered) {
  cv::Mat1b plane(rows, columns);
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < columns; ++x)
      plane(y, x) =
          static_cast<unsigned char>(std::lround(level_at((x + 0.5) * px_covered - 0.5, (y + 0.5) * px_covered - 0.5)));
  return plane;
}

Photo ramp_photo() {
  Photo photo;
  photo.luma = ramp(101, 81, 1.0);
  photo.cb = ramp(51, 41, 2.0);
  photo.cr = photo.cb.clone();
  return photo;
}

TEST(ShrunkPhoto, AveragesWholeAndPartPixelsAboutTheirMiddle) {
  const Photo photo = ramp_photo();
  for (const double factor : {1.2, 1.5, 2.0, 2.7, 3.0}) {
    const Photo small = shrunk(photo, factor);
    ASSERT_EQ(small.width_px(), static_cast<int>(101 / factor)) << factor;
    ASSERT_EQ(small.height_px(), static_cast<int>(81 / factor)) << factor;
    for (int y = 0; y < small.height_px(); ++y)
      for (int x = 0; x < small.width_px(); ++x)  // rounded to a level before and after
        ASSERT_NEAR(small.luma(y, x), level_at((x + 0.5) * factor - 0.5, (y + 0.5) * factor - 0.5), 1.0)
            << factor << " at " << x << ", " << y;
  }
}

TEST(ShrunkPhoto, KeepsColourWhereItWas) {
  const Photo photo = ramp_photo();
  for (const double factor : {1.2, 1.5, 2.0, 2.7, 3.0}) {
    const Photo small = shrunk(photo, factor);
    EXPECT_LE(small.cb.cols, photo.cb.cols);
    for (const Vector2d& place_px : {Vector2d(12.0, 9.0), Vector2d(25.5, 20.0)}) {
      const Vector2d px = small.chroma.position(place_px);
      const auto x = static_cast<int>(std::lround(px.x()));
      const auto y = static_cast<int>(std::lround(px.y()));
      ASSERT_TRUE(x >= 0 && x < small.cb.cols && y >= 0 && y < small.cb.rows) << factor;
      // the nearest pixel lies up to half of one off, either way
      const Vector2d off_px = (Vector2d(x, y) - px).cwiseProduct(small.chroma.pixels) * factor;
      const Vector2d large_px = (place_px.array() + 0.5) * factor - 0.5;
      EXPECT_NEAR(small.cb(y, x), level_at(large_px.x() + off_px.x(), large_px.y() + off_px.y()), 1.0) << factor;
    }
  }
}

TEST(ShrunkPhoto, SharesItsPlanesAtItsOwnSize) {
  const Photo photo = ramp_photo();
  EXPECT_EQ(shrunk(photo, 1.0).luma.data, photo.luma.data);
}

}  // namespace
}  // namespace jigtrue
