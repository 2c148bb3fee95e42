// The picture's blur, told from the edges of a plate that was drawn with a known one.
#include "jigtrue/detection/estimate_blur.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr double kPxPerMm = 5.0;

// Straight above the bed's point (40, 30), X to the right and Y up in the picture; the plate's top face lies 340 mm
// below.
Camera camera_above() {
  Camera camera;
  VectorXd parameters(9);
  parameters << 340.0 * kPxPerMm, 340.0 * kPxPerMm, 200.2, 150.4, 0.0, 0.0, 0.0, 0.0, 0.0;
  camera.lens = make_lens(LensModel::radial5, 400, 300, parameters);
  camera.camera_from_bed.rotation = Eigen::AngleAxisd(kPi, Vector3d::UnitX()).toRotationMatrix();
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * Vector3d(40.0, 30.0, 343.0));
  return camera;
}

double step(double x, double sigma) { return 0.5 * std::erfc(-x / (std::sqrt(2.0) * sigma)); }

// A plane of the picture: a rectangle 40 x 20 mm about the camera's foot, both of its edges blurred.
cv::Mat1b drawn(const cv::Size& size, double scale, double sigma_px, double beside, double inside) {
  cv::Mat1b picture(size);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const double u = (x + 0.5) * scale - 0.5 - 200.2;
      const double v = (y + 0.5) * scale - 0.5 - 150.4;
      const double across = step(u + 20.0 * kPxPerMm, sigma_px) - step(u - 20.0 * kPxPerMm, sigma_px);
      const double along = step(v + 10.0 * kPxPerMm, sigma_px) - step(v - 10.0 * kPxPerMm, sigma_px);
      picture(y, x) = static_cast<unsigned char>(std::lround(beside + (inside - beside) * across * along));
    }
  }
  return picture;
}

struct Drawn {
  double luma_px;
  double chroma_px;
};
class Blur : public testing::TestWithParam<Drawn> {};

TEST_P(Blur, IsWhatTheEdgesWereDrawnWith) {
  const auto [luma_px, chroma_px] = GetParam();
  Photo photo;
  photo.luma = drawn({400, 300}, 1.0, luma_px, 170.0, 90.0);
  photo.cb = drawn({200, 150}, 2.0, std::hypot(luma_px, chroma_px), 120.0, 90.0);
  photo.cr = drawn({200, 150}, 2.0, std::hypot(luma_px, chroma_px), 130.0, 165.0);
  Blank blank;
  blank.shape = PlateBlank{40.0, 20.0, 3.0, 0.0};
  Seat seat;
  seat.kind = FloorSeat{0.0};
  BlankPlace place;
  place.centre_mm = {40.0, 30.0};
  const Camera camera = camera_above();
  EdgeModelStore models;
  const PictureBlur blur = estimate_blur({photo, camera, blank, seat, {}, models}, place);
  // Reading between pixels blurs too: bilinearly at the fraction f by a variance of f (1 - f) pixels, at most a
  // quarter; of chroma pixels, which are two wide, at most one. Blurs are tried at steps of up to 31 % (luma) and
  // twofold (chroma, below the usual one): the nearest is within half a step.
  const double luma_step = std::sqrt(1.31);
  const double chroma_step = std::sqrt(2.0);
  EXPECT_GE(blur.luma_px, luma_px / luma_step);
  EXPECT_LE(blur.luma_px, luma_step * std::sqrt(luma_px * luma_px + 0.25));
  EXPECT_GE(blur.chroma_px, std::sqrt(std::max(chroma_px * chroma_px - 0.25, 0.0)) / chroma_step);
  EXPECT_LE(blur.chroma_px, chroma_step * std::sqrt(chroma_px * chroma_px + 1.0));
}

INSTANTIATE_TEST_SUITE_P(Drawn, Blur,
                         testing::Values(Drawn{0.7, 1.0}, Drawn{0.95, 1.6}, Drawn{1.5, 1.3}, Drawn{2.3, 2.4}));

}  // namespace
}  // namespace jigtrue
