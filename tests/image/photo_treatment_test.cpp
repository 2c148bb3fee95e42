#include "jigtrue/image/photo_treatment.hpp"

#include "jigtrue/image/photo_digest.hpp"

#include <cmath>

#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

// Slanted stripes, drawn eight times as fine and shrunk, so that edges fall between pixels in every way; then blurred.
Photo stripes(double blur_px) {
  constexpr int kFine = 8;
  cv::Mat1f fine(240 * kFine, 320 * kFine);
  for (int y = 0; y < fine.rows; ++y)
    for (int x = 0; x < fine.cols; ++x)
      fine(y, x) = static_cast<int>((x + 0.21F * y) / (20 * kFine)) % 2 == 0 ? 40.0F : 200.0F;
  if (blur_px > 0.0) cv::GaussianBlur(fine, fine, {0, 0}, blur_px * kFine);
  cv::Mat1f small;
  cv::resize(fine, small, {320, 240}, 0, 0, cv::INTER_AREA);
  Photo photo;
  small.convertTo(photo.luma, CV_8U);
  return photo;
}

// A pixel's own width blurs by sqrt(1/12) = 0.29 px; the steepest of a few samples is a chord of the slope and reads
// up to a tenth of a pixel more.
TEST(PhotoTreatment, MeasuresTheBlurOfTheSharpestEdges) {
  for (const double blur : {0.7, 1.0, 1.5, 2.0}) {
    const double expected = std::hypot(blur, std::sqrt(1.0 / 12.0));
    EXPECT_NEAR(photo_treatment(stripes(blur)).blur_px, expected, 0.12) << blur;
  }
  EXPECT_LT(photo_treatment(stripes(0.0)).blur_px, kStraight_px);
  Photo flat;
  flat.luma = cv::Mat1b(200, 200, 90);
  EXPECT_EQ(photo_treatment(flat).blur_px, 0.0) << "nothing there tells";
}

// As messengers do: a third of the size, and enlarged again.
TEST(PhotoTreatment, TellsACopyThatWasMadeSmallerAndEnlarged) {
  Photo photo = stripes(0.6);
  ASSERT_LT(photo_treatment(photo).blur_px, kStraight_px);
  cv::Mat1b small;
  cv::resize(photo.luma, small, {107, 80}, 0, 0, cv::INTER_AREA);
  cv::resize(small, photo.luma, {320, 240}, 0, 0, cv::INTER_CUBIC);
  EXPECT_GT(photo_treatment(photo).blur_px, 1.2);
}

TEST(PhotoTreatment, TellsAPhotoWithoutColour) {
  Photo photo = stripes(0.6);
  EXPECT_TRUE(photo_treatment(photo).grey);
  photo.cb = cv::Mat1b(120, 160, 128);
  photo.cr = cv::Mat1b(120, 160, 129);
  EXPECT_TRUE(photo_treatment(photo).grey) << "stored with colour, and none in it";
  photo.cr(cv::Rect(10, 10, 8, 8)).setTo(140);
  EXPECT_FALSE(photo_treatment(photo).grey) << "a wooden thing on grey";
}

TEST(PhotoDigest, IsThePicturesWhateverItsFile) {
  Photo photo = stripes(0.6);
  photo.file = "a.jpg";
  const std::string digest = photo_digest(photo);
  EXPECT_EQ(digest.size(), 16u);
  Photo renamed = photo;
  renamed.file = "b.jpg";
  EXPECT_EQ(photo_digest(renamed), digest);
  renamed.luma = photo.luma.clone();
  renamed.luma(239, 319) = static_cast<unsigned char>(renamed.luma(239, 319) ^ 1);
  EXPECT_NE(photo_digest(renamed), digest);
  Photo cut = photo;
  cut.luma = photo.luma(cv::Rect(0, 0, 319, 240)).clone();
  EXPECT_NE(photo_digest(cut), digest);
}

}  // namespace
}  // namespace jigtrue
