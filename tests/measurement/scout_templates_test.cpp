// A load drawn of each template's blanks: scouting it by the template as it stands finds them all.
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/measurement/scout_photo.hpp"
#include "support/temporary_folder.hpp"

#include <cmath>
#include <filesystem>
#include <fstream>

#include "drawn/random_load.hpp"
#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr std::uint32_t kTemplatesSeed = 51;

LikeFile template_like(const std::string& name) {
  const std::filesystem::path file =
      std::filesystem::path(JIGTRUE_SOURCE_DIR) / "fixtures/templates" / (name + ".json");
  return read_like(read_text_file(file.string()), file.string());
}

ScoutResult scouted_picture(const cv::Mat3b& picture, const Camera& camera, const LikeFile& like) {
  const test::TemporaryFolder folder;
  std::ofstream(folder / "photo.jpg", std::ios::binary) << encode_jpeg(picture, 92);
  EdgeModelStore models;
  return scout_photo(read_photo(folder / "photo.jpg"), camera, like, {}, models);
}

class ScoutedTemplate : public testing::TestWithParam<std::pair<const char*, int>> {};

TEST_P(ScoutedTemplate, FindsEveryBlankOfADrawnLoad) {
  const auto [name, blanks] = GetParam();
  const LikeFile like = template_like(name);
  Slot declared = like.kind;
  if (!declared.seat.top_mm)  // half a plate stands out of its tray
    declared.seat.top_mm = top_face_mm(declared.blank.shape, declared.seat) -
                           0.5 * std::get<PlateBlank>(declared.blank.shape).thickness_mm;
  const test::RandomLoad load = test::random_load(declared, blanks, 4.0, kTemplatesSeed);
  const ScoutResult result = scouted_picture(test::draw(load.bed, kTemplatesSeed), load.stated, like);
  ASSERT_EQ(result.slots.size(), load.bed.slots.size());
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    ASSERT_TRUE(result.slots[i].blank);
    const ScoutedPlace& blank = *result.slots[i].blank;
    const ExpandedUncertainty& u = blank.measured.numbers->uncertainty;
    const Vector2d off = blank.slot.centre_mm - load.bed.slots[i].centre_mm;
    EXPECT_LE(std::abs(off.y()), 1.5 * u.across_mm + 0.01);  // beyond 1.5 half-widths lie 3 of 1,000
    EXPECT_LE(std::abs(off.x()), 1.5 * u.along_mm.value());
  }
  ASSERT_TRUE(result.grid);
  ASSERT_TRUE(result.grid->row_pitch);
  const Vector2d first = load.bed.slots.front().seat_centre_mm;
  const Vector2d last = load.bed.slots.back().seat_centre_mm;
  EXPECT_NEAR(result.grid->row_pitch->mm, (last - first).norm() / (blanks - 1), result.grid->row_pitch->u_mm + 0.1);
}

INSTANTIATE_TEST_SUITE_P(Files, ScoutedTemplate,
                         testing::Values(std::pair("five-pens-in-vees", 5), std::pair("ten-rods-in-slots", 10),
                                         std::pair("tags-in-a-tray", 4), std::pair("tapered-handles", 4),
                                         std::pair("rulers", 4)),
                         [](const auto& file) {
                           std::string name = file.param.first;
                           std::replace(name.begin(), name.end(), '-', '_');
                           return name;
                         });

// Painted as what a camera straight above sees of them: the top faces, on a board.
TEST(ScoutedCoasters, AreFoundInTheirGrid) {
  const LikeFile like = template_like("coasters");
  constexpr double kCoasterPxPerMm = 3.0;
  constexpr double kAbove_mm = 600.0;
  const double top = top_face_mm(like.kind.blank.shape, like.kind.seat);
  const double focal = kCoasterPxPerMm * (kAbove_mm - top);  // so many pixels a millimetre of a top face
  Camera camera;
  VectorXd parameters = VectorXd::Zero(9);
  parameters.head<4>() << focal, focal, 480.0, 330.0;
  camera.lens = make_lens(LensModel::radial5, 960, 660, parameters);
  Matrix3d rotation;
  rotation << 1, 0, 0, 0, -1, 0, 0, 0, -1;
  camera.camera_from_bed = {rotation, -(rotation * Vector3d(160.0, 110.0, kAbove_mm))};
  cv::Mat3b picture(660, 960, cv::Vec3b(60, 70, 80));
  std::vector<Vector2d> centres;
  for (const double y : {60.0, 160.0})
    for (const double x : {55.0, 160.0, 265.0}) {
      centres.emplace_back(x, y);
      const auto px = project_bed_point(camera, {x, y, top});
      constexpr int kShift = 8;  // fractional bits
      const auto fixed = [](double value) { return static_cast<int>(std::lround(value * (1 << kShift))); };
      cv::circle(picture, {fixed(px->x()), fixed(px->y())}, fixed(45.0 * kCoasterPxPerMm), cv::Scalar(120, 160, 190),
                 cv::FILLED, cv::LINE_AA, kShift);
    }
  cv::GaussianBlur(picture, picture, {}, 0.8);
  cv::Mat3b noise(picture.size());
  cv::theRNG().state = kTemplatesSeed;
  cv::randn(noise, cv::Scalar::all(8), cv::Scalar::all(2.0));
  picture += noise;
  const ScoutResult result = scouted_picture(picture, camera, like);
  ASSERT_EQ(result.slots.size(), centres.size());
  for (std::size_t i = 0; i < centres.size(); ++i)  // from the front to the back, from left to right
    EXPECT_LT((result.slots[i].slot.centre_mm - centres[i]).norm(), 0.2);
  ASSERT_TRUE(result.grid && result.grid->column_pitch);
  EXPECT_NEAR(result.grid->column_pitch->mm, 105.0, 0.2);
}

}  // namespace
}  // namespace jigtrue
