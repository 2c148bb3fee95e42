#include "jigtrue/calibration/locate_by_marks.hpp"

#include "jigtrue/calibration/machine_figures.hpp"

#include <cstdio>

#include "calibration/bed_marks.hpp"
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using namespace synthetic;

const std::vector<Vector3d> kUneven{{80, 70, 10}, {280, 70, 10}, {80, 220, 10}, {250, 230, 10}, {190, 60, 25}};
const std::vector<Vector3d> kEven{{80, 70, 10}, {280, 70, 10}, {80, 220, 10}, {280, 220, 10}};

std::vector<DrawnMark> drawn(const std::vector<Vector3d>& marks, double turn_deg = 0.0) {
  std::vector<DrawnMark> list;
  for (const Vector3d& m : marks) list.push_back({m, turn_deg});
  return list;
}

Camera camera_at(const Rigid& pose) {
  Camera camera;
  camera.lens = barrel_lens();
  camera.camera_from_bed = pose;
  return camera;
}

double largest_error_mm(const Camera& truth, const Camera& found) {
  double largest = 0.0;
  for (double x = 100.0; x <= 260.0; x += 40.0)
    for (double y = 80.0; y <= 210.0; y += 32.5) {
      const auto bed = bed_point_at(found, *project_bed_point(truth, {x, y, 10.0}), 10.0);
      largest = bed ? std::max(largest, (bed->mm - Vector2d(x, y)).norm()) : 1e9;
    }
  return largest;
}

class HeldAnyWay : public testing::TestWithParam<double> {};

// Other marks lie about; the pattern is uneven, so the photo's turn does not matter.
TEST_P(HeldAnyWay, APhotoLocatesItselfByUnevenMarks) {
  std::mt19937 random(21);
  const Camera truth = camera_at(overhead(GetParam(), {10, -20, 30}, {4.0, -6.0, 0.0}));
  std::vector<DrawnMark> marks = drawn(kUneven);
  marks.push_back({{20, 280, 0}, 20.0});
  marks.push_back({{340, 30, 0}, -40.0});
  const auto located = locate_by_marks(draw_marks(truth, marks, random), lens_of(truth.lens), kUneven);
  ASSERT_TRUE(located.ok()) << located.reason();
  EXPECT_EQ(located->used.size(), kUneven.size());
  EXPECT_TRUE(located->left_out.empty());
  // marks to 0.02 px are 0.01 mm; inside them a place is known about as well; 4 sigma and some for the tilt
  EXPECT_LE(largest_error_mm(truth, located->pose.camera), 0.06);
}
INSTANTIATE_TEST_SUITE_P(Turns, HeldAnyWay, testing::Values(0.0, 40.0, 100.0, 180.0, 250.0));

TEST(LocateByMarks, NeverGuessesWhichWayAnEvenPatternLies) {
  std::mt19937 random(22);
  const Camera truth = camera_at(overhead(170.0));
  const cv::Mat1b photo = draw_marks(truth, drawn(kEven), random);
  const auto open = locate_by_marks(photo, lens_of(truth.lens), kEven);
  ASSERT_FALSE(open.ok());
  EXPECT_NE(open.reason().find("which side is at the top"), std::string::npos) << open.reason();
  LocateOptions options;
  options.top = PhotoTop::front;
  const auto told = locate_by_marks(photo, lens_of(truth.lens), kEven, options);
  ASSERT_TRUE(told.ok()) << told.reason();
  EXPECT_LE(largest_error_mm(truth, told->pose.camera), 0.06);
  options.top = PhotoTop::left;  // as far from one reading as from the other
  EXPECT_FALSE(locate_by_marks(photo, lens_of(truth.lens), kEven, options).ok());
}

TEST(LocateByMarks, NamesTheMarkThatIsNotWhereItIsDeclared) {
  std::mt19937 random(23);
  const Camera truth = camera_at(overhead(10.0));
  std::vector<Vector3d> marks = kUneven;
  marks.push_back({300, 150, 10});
  const cv::Mat1b photo = draw_marks(truth, drawn(marks), random);
  marks[3].x() += 1.5;
  const auto located = locate_by_marks(photo, lens_of(truth.lens), marks);
  ASSERT_TRUE(located.ok()) << located.reason();
  ASSERT_EQ(located->left_out.size() + located->not_seen.size(), 1U);
  EXPECT_EQ(located->left_out.empty() ? located->not_seen[0] : located->left_out[0], 3U);
  EXPECT_LE(largest_error_mm(truth, located->pose.camera), 0.06);
}

TEST(LocateByMarks, RefusesTooFewMarksAndAnotherSheet) {
  std::mt19937 random(24);
  const Camera truth = camera_at(overhead());
  const LensRecord lens = lens_of(truth.lens);
  const cv::Mat1b three = draw_marks(truth, drawn({kUneven.begin(), kUneven.begin() + 3}), random);
  EXPECT_FALSE(locate_by_marks(three, lens, kUneven).ok());
  EXPECT_FALSE(locate_by_marks(three, lens, {kUneven.begin(), kUneven.begin() + 3}).ok());
  const cv::Mat1b photo = draw_marks(truth, drawn(kUneven), random);
  const std::vector<Vector3d> other{{30, 30, 0}, {330, 60, 0}, {60, 260, 0}, {300, 200, 0}, {200, 30, 0}};
  EXPECT_FALSE(locate_by_marks(photo, lens, other).ok());
}

std::vector<Vector3d> burned_grid() {
  std::vector<Vector3d> marks;
  for (const double x : {60.0, 180.0, 300.0})
    for (const double y : {50.0, 150.0, 250.0}) marks.emplace_back(x, y, 3.0);
  return marks;
}

// The machine's X axis is 0.2 % long, its Y axis 0.1 % short and leans by 0.1 degrees.
std::vector<Vector3d> misburned(const std::vector<Vector3d>& marks) {
  std::vector<Vector3d> list;
  const double q = rad_from_deg(0.1);
  for (const Vector3d& m : marks) list.emplace_back(1.002 * m.x() - q * m.y(), 0.999 * m.y(), m.z());
  return list;
}

TEST(MachineFigures, TellTheDifferenceOfScalesAndTheSquarenessFromOnePhoto) {
  std::mt19937 random(25);
  const Camera truth = camera_at(overhead(5.0));
  const std::vector<Vector3d> grid = burned_grid();
  const cv::Mat1b photo = draw_marks(truth, drawn(misburned(grid)), random);
  LocateOptions options;
  options.top = PhotoTop::back;
  const auto located = locate_by_marks(photo, lens_of(truth.lens), grid, options);
  ASSERT_TRUE(located.ok()) << located.reason();
  const auto figures = machine_figures(*located, lens_of(truth.lens));
  ASSERT_TRUE(figures.ok()) << figures.reason();
  EXPECT_FALSE(figures->scale_x);
  EXPECT_NEAR(figures->scale_x_less_y.value, 0.003, figures->scale_x_less_y.u95);
  EXPECT_NEAR(figures->squareness_deg.value, 0.1, figures->squareness_deg.u95);
  EXPECT_LT(figures->scale_x_less_y.u95, 0.002);
  EXPECT_LT(figures->squareness_deg.u95, 0.1);
  std::printf("x less y %.4f +/- %.4f, square %.3f +/- %.3f deg\n", figures->scale_x_less_y.value,
              figures->scale_x_less_y.u95, figures->squareness_deg.value, figures->squareness_deg.u95);
}

TEST(MachineFigures, TellEachScaleAgainstABoardsCamera) {
  std::mt19937 random(26);
  const Camera truth = camera_at(overhead(5.0));
  const std::vector<Vector3d> grid = burned_grid();
  const cv::Mat1b photo = draw_marks(truth, drawn(misburned(grid)), random);
  LocateOptions options;
  options.top = PhotoTop::back;
  const auto located = locate_by_marks(photo, lens_of(truth.lens), grid, options);
  ASSERT_TRUE(located.ok()) << located.reason();
  // the board was laid a little askew: that must not pass for scale
  CameraRecord by_board = camera_record(truth.camera_from_bed);
  Rigid askew;
  askew.rotation = rotation_from_vector({0.0, 0.0, rad_from_deg(0.6)});
  askew.translation = {0.7, -0.4, 0.0};
  by_board.camera.camera_from_bed = truth.camera_from_bed * askew;
  const auto figures = machine_figures(*located, by_board);
  ASSERT_TRUE(figures.ok()) << figures.reason();
  ASSERT_TRUE(figures->scale_x && figures->scale_y);
  EXPECT_NEAR(figures->scale_x->value, 0.002, figures->scale_x->u95);
  EXPECT_NEAR(figures->scale_y->value, -0.001, figures->scale_y->u95);
  EXPECT_NEAR(figures->squareness_deg.value, 0.1, figures->squareness_deg.u95);
  EXPECT_LT(figures->scale_x->u95, 0.001);
}

TEST(MachineFigures, NeedFiveMarks) {
  std::mt19937 random(27);
  const Camera truth = camera_at(overhead());
  LocateOptions options;
  options.top = PhotoTop::back;
  const auto located = locate_by_marks(draw_marks(truth, drawn(kEven), random), lens_of(truth.lens), kEven, options);
  ASSERT_TRUE(located.ok()) << located.reason();
  EXPECT_FALSE(machine_figures(*located, lens_of(truth.lens)).ok());
}

}  // namespace
}  // namespace jigtrue
