// A disc with a raised rim, lit from one side: the rim shines as brightly as the ground there and lies in its own shade
// on the other side, so that one edge or the other of it is the plainer one. The circle that all stretches agree on is
// the blank's.
#include "jigtrue/detection/outline_fit.hpp"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr double kRimPxPerMm = 5.0;
constexpr double kRimBlur_px = 0.9;
constexpr double kRimDiameter_mm = 24.0;
constexpr double kRim_mm = 0.9;
const Vector2d kRimCentre_mm(20.13, 19.78);

// Straight above; the bed's point (20, 20) in the middle of the picture.
Camera camera_above_the_rim() {
  Camera camera;
  VectorXd parameters = VectorXd::Zero(9);
  parameters.head<4>() << 400.0 * kRimPxPerMm, 400.0 * kRimPxPerMm, 100.0, 100.0;
  camera.lens = make_lens(LensModel::radial5, 201, 201, parameters);
  camera.camera_from_bed.rotation = Eigen::AngleAxisd(kPi, Vector3d::UnitX()).toRotationMatrix();
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * Vector3d(20.0, 20.0, 400.0));
  return camera;
}

Photo photo_of_a_raised_rim(double lit_from_rad) {
  constexpr double kGround = 185.0;
  constexpr double kFace = 85.0;
  std::mt19937 random(7);
  std::normal_distribution<double> noise(0.0, 2.0);
  const auto covered = [](double within_mm) {
    return 0.5 * std::erfc(-within_mm * kRimPxPerMm / (std::sqrt(2.0) * kRimBlur_px));
  };
  Photo photo;
  photo.luma.create(201, 201);
  for (int y = 0; y < photo.luma.rows; ++y) {
    for (int x = 0; x < photo.luma.cols; ++x) {
      const Vector2d from_centre_mm =
          Vector2d(20.0 + (x - 100.0) / kRimPxPerMm, 20.0 - (y - 100.0) / kRimPxPerMm) - kRimCentre_mm;
      const double within_mm = 0.5 * kRimDiameter_mm - from_centre_mm.norm();
      const double facing = std::cos(std::atan2(from_centre_mm.y(), from_centre_mm.x()) - lit_from_rad);
      const double rim = 120.0 + 60.0 * facing;
      const double shadow = facing < 0.0 ? 60.0 * facing * std::exp(-std::max(-within_mm, 0.0) / 0.8) : 0.0;
      const double ground = kGround + shadow;
      const double light = ground + (rim - ground) * covered(within_mm) + (kFace - rim) * covered(within_mm - kRim_mm);
      photo.luma(y, x) = static_cast<unsigned char>(std::lround(light + noise(random)));
    }
  }
  return photo;
}

TEST(RaisedRim, IsFoundByTheCircleThatItsStretchesAgreeOn) {
  const Camera camera = camera_above_the_rim();
  Blank blank;
  blank.shape = DiscBlank{kRimDiameter_mm, 0.001};
  Seat seat;
  seat.kind = FloorSeat{0.0};
  PictureBlur blur;
  blur.luma_px = kRimBlur_px;
  EdgeModelStore models;
  OutlineFitOptions options;
  options.girth_sigma_mm = 0.3 / std::sqrt(3.0);
  for (int light = 0; light < 8; ++light) {
    const Photo photo = photo_of_a_raised_rim(light * kPi / 4.0);
    const View view{photo, camera, blank, seat, blur, models};
    for (int start = 0; start < 8; ++start) {
      const BlankPlace from{kRimCentre_mm + 0.45 * unit_vector(0.4 + start * kPi / 4.0), 0.0, 0.0, 0.0};
      const auto fit = fit_outline(view, from, options);
      ASSERT_TRUE(fit.has_value()) << light << ", " << start;
      // a circle that takes the rim's inner edge for it on one side lies half the rim's width off
      EXPECT_LT((fit->place.centre_mm - kRimCentre_mm).norm(), kRim_mm / 3.0) << light << ", " << start;
    }
  }
}

}  // namespace
}  // namespace jigtrue
