// Real photographs of boards, by nobody here: they lie beside the project or in the package opencv-doc. Held against a
// general library's classic way: its finder, its corner refinement and its calibration on the same photos.
#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/calibration/lens_fit.hpp"
#include "jigtrue/calibration/map_uncertainty.hpp"
#include "jigtrue/image/read_photo.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <string>
#include <vector>

#include "calibration/classic_way.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

namespace fs = std::filesystem;

const fs::path kBoards = fs::path(JIGTRUE_SOURCE_DIR) / "../shared/real/boards";
const fs::path kSamples = "/usr/share/doc/opencv-doc/examples/data";

struct PhotoSet {
  std::string name;
  fs::path folder;
  std::string prefix;
  BoardSpec board;
};

void PrintTo(const PhotoSet& set, std::ostream* out) { *out << set.name; }

std::vector<cv::Mat1b> photos_of(const PhotoSet& set, std::vector<std::string>& names) {
  std::vector<fs::path> files;
  if (fs::exists(set.folder))
    for (const auto& entry : fs::directory_iterator(set.folder)) {
      const std::string name = entry.path().filename().string();
      const std::string kind = entry.path().extension().string();
      if (name.starts_with(set.prefix) && (kind == ".jpg" || kind == ".png")) files.push_back(entry.path());
    }
  std::sort(files.begin(), files.end());
  std::vector<cv::Mat1b> photos;
  for (const fs::path& file : files) {
    photos.push_back(read_photo(file, PhotoColour::luma_only).luma);
    names.push_back(file.filename().string());
  }
  return photos;
}

std::vector<LensPhoto> read_boards(const std::vector<cv::Mat1b>& photos, const std::vector<std::string>& names,
                                   const BoardSpec& board) {
  std::vector<LensPhoto> list;
  for (std::size_t i = 0; i < photos.size(); ++i)
    list.push_back({names[i], photos[i].cols, photos[i].rows, find_board(photos[i], board)});
  return list;
}

class RealBoards : public testing::TestWithParam<PhotoSet> {};

// As many photos are used, and they fit no worse: with the model that was chosen, each on its own corners.
TEST_P(RealBoards, AreUsedAndFitNoWorseThanByTheClassicWay) {
  const PhotoSet& set = GetParam();
  std::vector<std::string> names;
  const std::vector<cv::Mat1b> photos = photos_of(set, names);
  if (photos.empty()) GTEST_SKIP() << set.folder << " is not here";
  LensFitOptions options;
  options.judge_board_shape = true;  // as the lens command does
  const LensFit fit = fit_lens(read_boards(photos, names, set.board), options);
  classic::Views views;
  for (const cv::Mat1b& luma : photos)
    if (const auto corners = classic::find(luma, set.board)) views.add(*corners, set.board);
  const double classic_px = classic::calibrated_rms(views, photos.front().size(), fit.lens.model);
  const auto used =
      std::count_if(fit.photos.begin(), fit.photos.end(), [](const PhotoFit& photo) { return photo.used; });
  std::printf("%s, %s: %td photos, %.3f px; the classic way %zu photos, %.3f px\n", set.name.c_str(),
              to_string(fit.lens.model), used, fit.rms_px, views.px.size(), classic_px);
  EXPECT_GE(static_cast<std::size_t>(used), views.px.size());
  EXPECT_LE(fit.rms_px, classic_px);
}
INSTANTIATE_TEST_SUITE_P(Sets, RealBoards,
                         testing::Values(PhotoSet{"sony", kBoards / "sony", "frame", {7, 5, 30.0}},
                                         PhotoSet{"table", kBoards / "table", "img", {9, 6, 25.0}},
                                         PhotoSet{"wide", kBoards / "wide", "", {9, 7, 25.0}},
                                         PhotoSet{"left", kSamples, "left", {10, 7, 25.0}},
                                         PhotoSet{"right", kSamples, "right", {10, 7, 25.0}}),
                         [](const auto& set) { return set.param.name; });

// The map of a published lens of the same camera against ours, at every corner that was used: difference once the turn
// between the two, which any pose would take up, has been taken out; and what ours states there.
struct Difference {
  double px = 0.0;
  double stated_px = 0.0;  // 95 % radius
};

std::vector<Difference> differences(const LensFit& fit, const Lens& published) {
  std::vector<Vector2d> px;
  for (const PhotoFit& photo : fit.photos)
    for (std::size_t i = 0; photo.used && i < photo.points.size(); ++i)
      if (photo.point_used[i]) px.push_back(photo.points[i].px);
  const auto count = static_cast<Eigen::Index>(px.size());
  Matrix3d turn = Matrix3d::Identity();
  VectorXd rest(2 * count);
  MatrixXd by_turn(2 * count, 3);
  MatrixXd by_lens(2 * count, fit.lens.parameters.size());
  for (int round = 0; round < 10; ++round) {
    for (Eigen::Index i = 0; i < count; ++i) {
      const Vector3d ray = turn * *unproject(published, px[static_cast<std::size_t>(i)]);
      const auto there = project_with_jacobian(fit.lens, ray, LensJacobian::yes);
      rest.segment<2>(2 * i) = there->px - px[static_cast<std::size_t>(i)];
      by_turn.middleRows<2>(2 * i) = -there->by_point * cross_matrix(ray);
      by_lens.middleRows<2>(2 * i) = there->by_parameters;
    }
    const MatrixXd step = solve_least_squares(by_turn, rest);
    turn = rotation_from_vector(-Vector3d(step.col(0))) * turn;
  }
  // the turn follows the lens
  const MatrixXd following = by_lens - by_turn * solve_least_squares(by_turn, by_lens);
  std::vector<Difference> list;
  for (Eigen::Index i = 0; i < count; ++i) {
    const MatrixXd rows = following.middleRows(2 * i, 2);
    const Matrix2d model = 0.5 * fit.model_error_px * fit.model_error_px * Matrix2d::Identity();
    list.push_back({rest.segment<2>(2 * i).norm(), radius_95(rows * fit.covariance * rows.transpose() + model)});
  }
  return list;
}

// Published with the photos: sony by BoofCV's calibrator, table by OpenCV's, both with two radial terms. The principal
// point published for table is that of the photo turned: ours stands in for it.
TEST(RealBoardsPublished, LensesLieWithinWhatIsStated) {
  struct Published {
    PhotoSet set;
    std::vector<double> parameters;
  };
  for (const Published& known : {Published{{"sony", kBoards / "sony", "frame", {7, 5, 30.0}},
                                           {701.012, 698.654, 308.455, 246.843, -0.25559, 0.09997, 0.0, 0.0, 0.0}},
                                 Published{{"table", kBoards / "table", "img", {9, 6, 25.0}},
                                           {875.911, 876.128, 0.0, 0.0, 0.202, -0.403, 0.0, 0.0, 0.0}}}) {
    std::vector<std::string> names;
    const std::vector<cv::Mat1b> photos = photos_of(known.set, names);
    if (photos.empty()) GTEST_SKIP() << known.set.folder << " is not here";
    const LensFit fit = fit_lens(read_boards(photos, names, known.set.board));
    VectorXd parameters = Eigen::Map<const VectorXd>(known.parameters.data(), 9);
    if (parameters[2] == 0.0) parameters.segment<2>(2) = fit.lens.parameters.segment<2>(2);
    const Lens published = make_lens(LensModel::radial5, fit.lens.width_px, fit.lens.height_px, parameters);
    double largest = 0.0;
    double stated = 0.0;
    for (const Difference& d : differences(fit, published)) {
      EXPECT_LE(d.px, d.stated_px) << known.set.name;
      largest = std::max(largest, d.px);
      stated = std::max(stated, d.stated_px);
    }
    RecordProperty(known.set.name + "_largest_px", std::to_string(largest));
    RecordProperty(known.set.name + "_stated_px", std::to_string(stated));
  }
}

// Boards that run off the picture on all sides: no finder of whole boards sees them.
TEST(RealBoardsOffThePicture, MakeALens) {
  std::vector<std::string> names;
  const PhotoSet set{"sick", kBoards / "sick", "", {20, 20, 15.09}};
  std::vector<cv::Mat1b> photos = photos_of(set, names);
  if (photos.empty()) GTEST_SKIP() << set.folder << " is not here";
  photos.resize(10);  // 0.png to 9.png; then coins and the bed
  names.resize(10);
  const LensFit fit = fit_lens(read_boards(photos, names, set.board));
  for (const PhotoFit& photo : fit.photos) EXPECT_TRUE(photo.used) << photo.file << ": " << photo.reason;
  // The sheets are wavy, which no lens fit takes away: a second computation on the same corners leaves as much. Ours
  // weighs them, so may leave a little more.
  classic::Views views;
  for (const PhotoFit& photo : fit.photos) {
    views.px.emplace_back();
    views.mm.emplace_back();
    for (std::size_t i = 0; i < photo.points.size(); ++i) {
      if (!photo.point_used[i]) continue;
      const Vector2d& px = photo.points[i].px;
      const Vector3d& mm = photo.points[i].mm;
      views.px.back().emplace_back(static_cast<float>(px.x()), static_cast<float>(px.y()));
      views.mm.back().emplace_back(static_cast<float>(mm.x()), static_cast<float>(mm.y()), 0.0F);
    }
  }
  EXPECT_LE(fit.rms_px, 1.02 * classic::calibrated_rms(views, photos.front().size(), fit.lens.model));
  EXPECT_GE(fit.coverage, 0.95);
}

}  // namespace
}  // namespace jigtrue
