#include "jigtrue/calibration/held_out_on_bed.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/synthetic.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using synthetic::kBoard;

PoseFit pose_over(const Camera& camera) {
  PoseFit pose;
  pose.camera = camera;
  for (int j = 0; j < kBoard.corner_count(); ++j) {
    pose.points_mm.push_back(kBoard.corner_mm(j % 9, j / 9) + Vector3d(60, 50, 3));
    pose.px.push_back(*project_bed_point(camera, pose.points_mm.back()));
  }
  return pose;
}

// A small error in every direction of the picture, carried to the bed point by point.
TEST(HeldOutOnBed, IsWhatThatErrorDoesToBedPoints) {
  for (const Lens& lens : {synthetic::barrel_lens(), synthetic::wide_lens()}) {
    const PoseFit pose = pose_over(synthetic::overhead_camera(lens));
    LensRecord record;
    record.lens = lens;
    const LensModel other = lens.model == LensModel::radial5 ? LensModel::equidistant4 : LensModel::radial5;
    record.held_out = {{other, 0.05}, {LensModel::rational8, 0.03}, {lens.model, 0.02}};
    double squares = 0.0;
    constexpr int kDirections = 16;
    for (std::size_t i = 0; i < pose.points_mm.size(); ++i)
      for (int k = 0; k < kDirections; ++k) {
        const double angle = 2.0 * kPi * k / kDirections;
        const Vector2d px = pose.px[i] + 0.02 * Vector2d(std::cos(angle), std::sin(angle));
        const auto there = bed_point_at(pose.camera, px, pose.points_mm[i].z());
        squares += (there->mm - pose.points_mm[i].head<2>()).squaredNorm();
      }
    const double expected = std::sqrt(squares / static_cast<double>(kDirections * pose.points_mm.size()));
    const auto models = held_out_on_bed(record, pose);
    ASSERT_EQ(models.size(), 3u);
    EXPECT_EQ(models[0].model, lens.model);
    EXPECT_EQ(models[1].model, other);
    EXPECT_EQ(models[2].model, LensModel::rational8);
    // 0.02 px bend the map by a share of 0.02 over the focal length
    EXPECT_NEAR(models[0].mm / expected, 1.0, 1e-3);
    EXPECT_NEAR(models[1].mm / models[0].mm, 2.5, 1e-12);
    EXPECT_EQ(models[2].px, 0.03);
  }
}

TEST(HeldOutOnBed, ComesFromTheLensFilesOwnComparison) {
  const Lens truth = synthetic::barrel_lens();
  const synthetic::Scene scene = synthetic::make_scene(truth, 8, 0.08, 12);
  const LensFit fit = fit_lens(scene.photos);
  const LensRecord record = lens_record(fit, {}, {kBoard, "2024-05-01T12:00:00Z", "test"});
  ASSERT_FALSE(record.held_out.empty());
  const PoseFit pose = pose_over(synthetic::overhead_camera(fit.lens));
  const auto models = held_out_on_bed(record, pose);
  EXPECT_EQ(models.front().model, fit.lens.model);
  const auto chosen = std::find_if(fit.trials.begin(), fit.trials.end(),
                                   [&](const ModelTrial& trial) { return trial.model == fit.lens.model; });
  ASSERT_NE(chosen, fit.trials.end());
  EXPECT_NEAR(models.front().px, chosen->held_out_px, 1e-6);
  // 480 mm above the bed a pixel is 0.36 mm
  EXPECT_NEAR(models.front().mm / models.front().px, 480.0 / 1350.0, 0.05);
  LensRecord silent = record;
  silent.held_out.clear();
  EXPECT_TRUE(held_out_on_bed(silent, pose).empty());
}

}  // namespace
}  // namespace jigtrue
