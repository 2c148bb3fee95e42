#include "jigtrue/report/annotated_picture.hpp"

#include "support/sample_result.hpp"

#include <limits>

#include <gtest/gtest.h>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

ShrunkPicture grey_photo(const CheckResult& result, double scale) {
  ShrunkPicture photo;
  photo.scale = scale;
  photo.bgr.create(static_cast<int>(result.height_px * scale), static_cast<int>(result.width_px * scale));
  photo.bgr.setTo(cv::Scalar(90, 100, 110));
  return photo;
}

bool changed(const cv::Mat3b& picture, const cv::Point& at) { return picture(at) != cv::Vec3b(90, 100, 110); }

cv::Point in_picture(const Vector2d& photo_px, double scale) {
  return {static_cast<int>(std::lround((photo_px.x() + 0.5) * scale - 0.5)),
          static_cast<int>(std::lround((photo_px.y() + 0.5) * scale - 0.5))};
}

TEST(AnnotatedPicture, KeepsThePhotosWidthAndAddsAStrip) {
  const CheckResult result = test::sample_result();
  const ShrunkPicture photo = grey_photo(result, 1600.0 / 1800.0);
  const cv::Mat3b picture = annotated_picture(result, photo);
  EXPECT_EQ(picture.cols, photo.bgr.cols);
  EXPECT_GT(picture.rows, photo.bgr.rows + 3 * 24);  // three lines of at least 24 px
  EXPECT_LT(picture.rows, photo.bgr.rows * 1.3);
  EXPECT_FALSE(changed(photo.bgr, {5, 5})) << "the photo passed in is not drawn upon";
}

TEST(AnnotatedPicture, DrawsEachOutlineWhereTheSketchHasIt) {
  const CheckResult result = test::sample_result();
  for (const double scale : {1.0, 1600.0 / 1800.0, 0.37}) {
    const cv::Mat3b picture = annotated_picture(result, grey_photo(result, scale));
    for (const SlotResult& slot : result.slots) {
      const Polyline2d& outline = slot.sketch.outline.front();
      // dashed lines too have a casing all along
      for (std::size_t i = 0; i < outline.size(); ++i) {
        const Vector2d middle = (outline[i] + outline[(i + 1) % outline.size()]) / 2.0;
        EXPECT_TRUE(changed(picture, in_picture(middle, scale))) << slot.id << " side " << i << " scale " << scale;
      }
    }
    EXPECT_FALSE(changed(picture, {3, 3}));
  }
}

TEST(AnnotatedPicture, TellsStatesApartByMoreThanHue) {
  // the same place drawn in each state: brightness along the outline differs between any two of them
  CheckResult result = test::sample_result();
  std::vector<cv::Mat3b> pictures;
  for (const SlotState state : {SlotState::found, SlotState::empty, SlotState::mismatch, SlotState::doubtful}) {
    result.slots.resize(1);
    result.slots[0].state = state;
    const cv::Mat3b picture = annotated_picture(result, grey_photo(result, 1.0));
    // the outline alone, without the label beside it
    std::vector<cv::Point2f> corners;
    for (const Vector2d& corner : result.slots[0].sketch.outline.front()) {
      corners.emplace_back(static_cast<float>(corner.x()), static_cast<float>(corner.y()));
    }
    pictures.push_back(picture(cv::boundingRect(corners)).clone());
  }
  for (std::size_t a = 0; a < pictures.size(); ++a) {
    for (std::size_t b = a + 1; b < pictures.size(); ++b) {
      std::vector<cv::Mat1b> green(2);
      cv::extractChannel(pictures[a], green[0], 1);
      cv::extractChannel(pictures[b], green[1], 1);
      EXPECT_GT(cv::countNonZero(cv::abs(green[0] - green[1]) > 40), 200) << a << " and " << b;
    }
  }
}

TEST(AnnotatedPicture, BearsHostileAndFarAwaySketches) {
  CheckResult result = test::sample_result();
  result.fixture_name = std::string(400, 'W') + "\x01\xC3\xA4";
  result.slots[0].id = std::string(300, 'x');
  result.slots[1].sketch.outline = {{Vector2d(-1e9, 1e9), Vector2d(1e12, -3)}};
  result.slots[1].sketch.label_px = {1e12, -1e12};
  result.slots[2].sketch = {};
  result.slots[3].sketch.label_px.setConstant(std::numeric_limits<double>::quiet_NaN());
  const ShrunkPicture photo = grey_photo(result, 0.2);
  const cv::Mat3b picture = annotated_picture(result, photo);
  EXPECT_EQ(picture.cols, photo.bgr.cols);
  EXPECT_GT(picture.rows, photo.bgr.rows);
}

TEST(AnnotatedPicture, HoldsManySlots) {
  CheckResult result = test::sample_result();
  const SlotResult one = result.slots[0];
  result.slots.clear();
  for (int i = 0; i < 200; ++i) {
    result.slots.push_back(one);
    result.slots.back().id = std::to_string(i);
  }
  EXPECT_EQ(annotated_picture(result, grey_photo(result, 0.8)).cols, 1440);
}

}  // namespace
}  // namespace jigtrue
