// Where the search before the close fit puts a blank, told from discs and rods that were drawn in known places.
#include "jigtrue/detection/coarse_search.hpp"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr double kSearchedPxPerMm = 2.5;

// Straight above the bed's point (60, 45), X to the right and Y up in the picture; what is drawn lies 400 mm below.
Camera camera_400_mm_above() {
  Camera camera;
  VectorXd parameters(9);
  parameters << 400.0 * kSearchedPxPerMm, 400.0 * kSearchedPxPerMm, 150.0, 112.0, 0.0, 0.0, 0.0, 0.0, 0.0;
  camera.lens = make_lens(LensModel::radial5, 300, 225, parameters);
  camera.camera_from_bed.rotation = Eigen::AngleAxisd(kPi, Vector3d::UnitX()).toRotationMatrix();
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * Vector3d(60.0, 45.0, 400.0));
  return camera;
}

// `within_mm` tells how far a bed point lies within the outline, negative beyond it.
template <class Within>
Photo picture_of(const Camera& camera, const Within& within_mm) {
  std::mt19937 random(5);
  std::normal_distribution<double> noise(0.0, 6.0);
  Photo photo;
  photo.luma.create(225, 300);
  const Vector3d foot = camera.centre_mm();
  for (int y = 0; y < photo.luma.rows; ++y) {
    for (int x = 0; x < photo.luma.cols; ++x) {
      const Vector2d bed_mm(foot.x() + (x - 150.0) / kSearchedPxPerMm, foot.y() - (y - 112.0) / kSearchedPxPerMm);
      const double covered = 0.5 * std::erfc(-within_mm(bed_mm) * kSearchedPxPerMm / (std::sqrt(2.0) * 0.9));
      photo.luma(y, x) = static_cast<unsigned char>(std::lround(60.0 + 120.0 * covered + noise(random)));
    }
  }
  return photo;
}

TEST(CoarseSearch, PutsDiscsWhereTheyLieToAPixel) {
  const Camera camera = camera_400_mm_above();
  Blank blank;
  blank.shape = DiscBlank{30.0, 0.001};
  Seat seat;
  seat.kind = FloorSeat{0.0};
  std::mt19937 random(3);
  std::uniform_real_distribution<double> off(-4.5, 4.5);
  for (int i = 0; i < 12; ++i) {
    BlankPlace expected;
    expected.centre_mm = {60.0, 45.0};
    const double x_mm = expected.centre_mm.x() + off(random);
    const double y_mm = expected.centre_mm.y() + off(random);
    const double wider_mm = off(random);
    const SearchPicture picture{
        picture_of(camera,
                   [&](const Vector2d& mm) { return 15.0 + 0.5 * wider_mm - (mm - Vector2d(x_mm, y_mm)).norm(); }),
        1};
    const CoarseFinding finding = search_slot(picture, camera, blank, seat, expected, SearchRange{});
    const Candidate* best = nullptr;
    for (const auto* list : {&finding.candidates, &finding.other_sizes})
      for (const Candidate& candidate : *list)
        if (best == nullptr || candidate.sides() > best->sides()) best = &candidate;
    ASSERT_NE(best, nullptr);
    // the lattice's steps are 1 px, and 1.5 px of the diameter: the nearest one or, by the noise, the one beside
    EXPECT_NEAR(best->place.centre_mm.x(), x_mm, 1.0 / kSearchedPxPerMm);
    EXPECT_NEAR(best->place.centre_mm.y(), y_mm, 1.0 / kSearchedPxPerMm);
    EXPECT_NEAR(best->place.girth_mm, wider_mm, 1.5 / kSearchedPxPerMm);
    EXPECT_GT(best->sides(), 0.8);
  }
}

TEST(CoarseSearch, KeepsPixelsEnoughOfASlimBlank) {
  // 30 px a millimetre: a pen's barrel of 10 mm needs no more than 2.4 of them, a body of 2.3 mm stays 20 px wide
  EXPECT_EQ(search_shrink(30.0, 10.0), 12);
  EXPECT_GE(2.3 * 30.0 / search_shrink(30.0, 2.3), kSearchPxAcross);
  EXPECT_EQ(search_shrink(2.0, 2.3), 1);
}

}  // namespace
}  // namespace jigtrue
