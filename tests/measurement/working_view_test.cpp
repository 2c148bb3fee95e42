// At what scale a photo is measured: as fine as the blanks need, whatever pixels the camera has.
#include "jigtrue/measurement/working_view.hpp"

#include "jigtrue/detection/search_picture.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// Straight above the bed, so many px a mm on it.
Camera overhead_camera(double px_per_mm) {
  constexpr double kHeight_mm = 400.0;
  Camera camera;
  const int size_px = static_cast<int>(100.0 * px_per_mm);
  VectorXd parameters = VectorXd::Zero(4 + distortion_count(LensModel::radial5));
  parameters.head<2>().setConstant(px_per_mm * kHeight_mm);
  parameters.segment<2>(2).setConstant(50.0 * px_per_mm);
  camera.lens = make_lens(LensModel::radial5, size_px, size_px, parameters);
  camera.camera_from_bed.rotation << 1, 0, 0, 0, -1, 0, 0, 0, -1;
  camera.camera_from_bed.translation = -(camera.camera_from_bed.rotation * Vector3d(50, 50, kHeight_mm));
  return camera;
}

Fixture coasters() {
  Fixture fixture;
  Slot slot;
  slot.id = "1";
  slot.centre_mm = Vector2d(50.0, 50.0);
  slot.blank.shape = DiscBlank{30.0, 3.0};
  slot.seat.kind = FloorSeat{0.0};
  fixture.slots.push_back(slot);
  return fixture;
}

double kept_px_per_mm(double px_per_mm) {
  const Camera camera = overhead_camera(px_per_mm);
  Photo photo;
  photo.luma = cv::Mat1b(camera.lens.height_px, camera.lens.width_px, static_cast<unsigned char>(128));
  const WorkingView view = working_view(photo, camera, coasters());
  EXPECT_EQ(view.photo.width_px(), view.camera.lens.width_px);
  return px_per_mm_at(view.camera, {50.0, 50.0, 0.0});
}

TEST(WorkingView, KeepsWhatTheBlanksNeedOfAnyFinerPhoto) {
  for (const double px_per_mm : {5.0, 7.0, 9.8, 10.0, 10.2, 20.0}) EXPECT_NEAR(kept_px_per_mm(px_per_mm), 5.0, 1e-9);
}

TEST(WorkingView, LeavesAPhotoThatIsHardlyFinerAsItIs) { EXPECT_NEAR(kept_px_per_mm(5.5), 5.5, 1e-9); }

TEST(WorkingView, LeavesACoarserPhotoAsItIs) { EXPECT_NEAR(kept_px_per_mm(3.4), 3.4, 1e-9); }

TEST(WorkingView, LooksAgainCoarserAndAsFarAsThePhotoGoesFiner) {
  const Fixture fixture = coasters();
  EXPECT_EQ(other_scales(overhead_camera(10.0), fixture, 2.0), (std::vector<double>{3.0, 2.0 / 1.5}));
  EXPECT_EQ(other_scales(overhead_camera(7.0), fixture, 1.4), (std::vector<double>{1.4 * 1.5, 1.0}));
  EXPECT_EQ(other_scales(overhead_camera(5.0), fixture, 1.0), (std::vector<double>{1.5}));
  EXPECT_EQ(other_scales(overhead_camera(2.0), fixture, 1.0), (std::vector<double>{}));
}

}  // namespace
}  // namespace jigtrue
