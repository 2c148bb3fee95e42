// The same photos of the board in other words: in another order, by a camera that hangs the other way round, with the
// board elsewhere on the bed, in another unit of length, under another orientation tag.
#include "cli/run.hpp"
#include "jigtrue/calibration/lens_fit.hpp"
#include "jigtrue/calibration/pose_fit.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "support/temporary_folder.hpp"

#include <array>
#include <sstream>
#include <vector>

#include "image/photo_files.hpp"
#include "property/loaded_bed.hpp"
#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

namespace jigtrue::test {
namespace {

constexpr BoardSpec kBoard{10, 7, 20.0};

std::vector<Photo> board_photos() {
  std::vector<Photo> photos;
  for (int i = 0; i < 10; ++i) {
    const std::string name = "0" + std::to_string(i) + ".jpg";
    photos.push_back(read_photo(project() / "fixtures/demo/cameras/attic/lens" / name, PhotoColour::luma_only));
  }
  return photos;
}

std::vector<LensPhoto> seen_in(const std::vector<Photo>& photos) {
  std::vector<LensPhoto> seen;
  seen.reserve(photos.size());
  for (const Photo& photo : photos)
    seen.push_back({photo.file, photo.width_px(), photo.height_px(), find_board(photo.luma, kBoard)});
  return seen;
}

LensFit fitted(const std::vector<LensPhoto>& photos) {
  LensFitOptions options;
  options.model = LensModel::radial5;
  return fit_lens(photos, options);
}

// Two fits of the same data differ by where they stop: within 1e-13 of the cost, sqrt(1e-13 x freedoms) sigma each; 2 x
// 540 - 69 freedoms.
double stopping_share() { return 2.0 * std::sqrt(1e-13 * 1011.0); }

TEST(Calibration, OrderOfThePhotosDoesNotMatter) {
  std::vector<LensPhoto> photos = seen_in(board_photos());
  const LensFit first = fitted(photos);
  std::reverse(photos.begin(), photos.end());
  std::swap(photos[2], photos[7]);
  const LensFit second = fitted(photos);
  EXPECT_EQ(first.corner_count, second.corner_count);
  for (Eigen::Index i = 0; i < first.lens.parameters.size(); ++i) {
    const double sigma = std::sqrt(first.covariance(i, i));
    EXPECT_NEAR(second.lens.parameters[i], first.lens.parameters[i], stopping_share() * sigma) << "parameter " << i;
    EXPECT_NEAR(second.covariance(i, i) / first.covariance(i, i), 1.0, 1e-5) << "parameter " << i;
  }
}

// How far the corners of the same photos, turned back, lie from where they were first seen: one axis, root mean square.
double repeats_to_px(const std::vector<LensPhoto>& first, const std::vector<LensPhoto>& turned) {
  double squares = 0.0;
  double count = 0.0;
  for (std::size_t i = 0; i < first.size(); ++i) {
    for (const Vector2d& px : first[i].corners->px) {
      const Vector2d there(first[i].height_px - 1.0 - px.y(), px.x());
      double nearest = 1e9;
      for (const Vector2d& other : turned[i].corners->px) nearest = std::min(nearest, (other - there).norm());
      squares += nearest * nearest;
      count += 2.0;
    }
  }
  return std::sqrt(squares / count);
}

// A quarter turn: what was at (x, y) is seen at (h - 1 - y, x). Focal lengths change places, so do the centre's two
// numbers, and of the tangential terms (p1 along y, p2 along x) x becomes y and y becomes -x. Each corner's window
// takes in other pixels then, so corners repeat to a part of their errors, and the lens to the same part of its own.
TEST(Calibration, CameraTurnedByAQuarterHasTheTurnedLens) {
  std::vector<Photo> photos = board_photos();
  const std::vector<LensPhoto> seen = seen_in(photos);
  const LensFit first = fitted(seen);
  for (Photo& photo : photos) {
    cv::Mat1b turned;
    cv::rotate(photo.luma, turned, cv::ROTATE_90_CLOCKWISE);
    photo.luma = turned;
  }
  const std::vector<LensPhoto> seen_turned = seen_in(photos);
  const LensFit second = fitted(seen_turned);
  const double part = repeats_to_px(seen, seen_turned) / first.sigma0_px;
  EXPECT_LT(part, 0.1);  // adds half a percent to them
  const VectorXd& p = first.lens.parameters;
  VectorXd expected = p;
  expected[0] = p[1];
  expected[1] = p[0];
  expected[2] = first.lens.height_px - 1.0 - p[3];
  expected[3] = p[2];
  expected[6] = p[7];
  expected[7] = -p[6];
  const Eigen::Index from[] = {1, 0, 3, 2, 4, 5, 7, 6, 8};
  for (Eigen::Index i = 0; i < p.size(); ++i) {
    const double sigma = std::sqrt(first.white_covariance(from[i], from[i]));
    EXPECT_NEAR(second.lens.parameters[i], expected[i], 3.0 * part * sigma) << "parameter " << i << ", part " << part;
  }
}

struct Pose {
  LensRecord lens;
  BoardCorners corners;
  int width_px = 0;
  int height_px = 0;
};
Pose pose_photo() {
  const std::string file = (project() / "calib/sample/lens.json").string();
  const Photo photo = read_photo(project() / "fixtures/demo/cameras/attic/pose.jpg", PhotoColour::luma_only);
  return {read_lens_json(read_text_file(file), file), find_board(photo.luma, kBoard).value(), photo.width_px(),
          photo.height_px()};
}

const std::vector<Vector2d> kPlaces_px = {{300, 250}, {820, 590}, {1300, 900}, {400, 1000}};

TEST(Calibration, BedMovesWithTheBoard) {
  const Pose pose = pose_photo();
  const BoardPlacement here{78, 302, -88, 3, 0, 0, 0, 0};
  PlaneMotion motion;
  motion.turn_deg = 123.0;
  motion.shift_mm = {-40.0, 75.5};
  const Vector2d there_mm = motion.point({here.x_mm, here.y_mm});
  const BoardPlacement there{there_mm.x(), there_mm.y(), here.angle_deg + 123.0, 3, 0, 0, 0, 0};
  const auto first = fit_pose_to_board(pose.lens, pose.corners, pose.width_px, pose.height_px, here);
  const auto second = fit_pose_to_board(pose.lens, pose.corners, pose.width_px, pose.height_px, there);
  ASSERT_TRUE(first && second);
  for (const Vector2d& px : kPlaces_px) {
    const auto a = bed_point_at(first->camera, px, 12.0);
    const auto b = bed_point_at(second->camera, px, 12.0);
    ASSERT_TRUE(a && b);
    EXPECT_LT((b->mm - motion.point(a->mm)).norm(), 1e-6) << px.transpose();
    EXPECT_NEAR(b->covariance_mm2.trace() / a->covariance_mm2.trace(), 1.0, 1e-6) << px.transpose();
  }
}

// Squares, places and heights in another unit of length: the bed in that unit.
TEST(Calibration, BedScalesWithTheBoard) {
  Pose pose = pose_photo();
  const auto first =
      fit_pose_to_board(pose.lens, pose.corners, pose.width_px, pose.height_px, {78, 302, -88, 3, 0, 0, 0, 0});
  constexpr double k = 1.7;
  pose.corners.board.square_mm *= k;
  const auto second = fit_pose_to_board(pose.lens, pose.corners, pose.width_px, pose.height_px,
                                        {78 * k, 302 * k, -88, 3 * k, 0, 0, 0, 0});
  ASSERT_TRUE(first && second);
  for (const Vector2d& px : kPlaces_px) {
    const auto a = bed_point_at(first->camera, px, 12.0);
    const auto b = bed_point_at(second->camera, px, 12.0 * k);
    ASSERT_TRUE(a && b);
    EXPECT_LT((b->mm - k * a->mm).norm(), 1e-6) << px.transpose();
    EXPECT_NEAR(b->covariance_mm2.trace() / (k * k * a->covariance_mm2.trace()), 1.0, 1e-6) << px.transpose();
  }
}

// One photo, stored turned every way with the tag that says so: the program's answer is the same to the last digit.
TEST(Orientation, DoesNotChangeTheAnswer) {
  const TemporaryFolder folder;
  const Photo photo = read_photo(project() / "fixtures/demo/pens/photo.jpg");
  cv::Mat3b rgb;
  cv::cvtColor(shrink(photo, photo.width_px()).bgr, rgb, cv::COLOR_BGR2RGB);
  // EXIF 2.32, 4.6.4: 1 upright; 6: the first row is the right side, the first column the top; 3: half a turn
  cv::Mat3b left;
  cv::rotate(rgb, left, cv::ROTATE_90_COUNTERCLOCKWISE);
  cv::Mat3b half;
  cv::rotate(rgb, half, cv::ROTATE_180);
  std::string first;
  for (const auto& [stored, tag] : {std::pair(rgb, 1), std::pair(left, 6), std::pair(half, 3)}) {
    TiffKind kind;
    kind.orientation = tag;
    kind.rows_per_strip = 64;
    write_tiff(folder / "photo.tif", stored, kind);
    std::ostringstream out;
    std::ostringstream err;
    const int status = cli::run(
        {"check", (folder / "photo.tif").string(), "--camera", (project() / "calib/sample/camera.json").string(),
         "--fixture", (project() / "fixtures/demo/pens/fixture.json").string(), "-o", (folder / "out").string()},
        out, err);
    ASSERT_EQ(status, 1) << err.str();  // one slot is empty
    const std::string offsets = read_text_file(folder / "out/offsets.csv");
    if (tag == 1) first = offsets;
    EXPECT_EQ(offsets, first) << "tag " << tag;
  }
}

}  // namespace
}  // namespace jigtrue::test
