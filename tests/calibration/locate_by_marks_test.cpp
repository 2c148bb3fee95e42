#include "jigtrue/calibration/locate_by_marks.hpp"

#include "jigtrue/calibration/machine_figures.hpp"

#include <cmath>
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
  list.reserve(marks.size());
  for (const Vector3d& m : marks) list.push_back({m, turn_deg});
  return list;
}

LocateOptions burned_options() {
  LocateOptions options;
  options.top = PhotoTop::back;
  options.burned = true;
  return options;
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
  marks.reserve(9);
  for (const double x : {60.0, 180.0, 300.0})
    for (const double y : {50.0, 150.0, 250.0}) marks.emplace_back(x, y, 3.0);
  return marks;
}

// The machine's X axis is 0.2 % long, its Y axis 0.1 % short and leans by 0.1 degrees.
std::vector<Vector3d> misburned(const std::vector<Vector3d>& marks) {
  std::vector<Vector3d> list;
  list.reserve(marks.size());
  const double q = rad_from_deg(0.1);
  for (const Vector3d& m : marks) list.emplace_back(1.002 * m.x() - q * m.y(), 0.999 * m.y(), m.z());
  return list;
}

TEST(MachineFigures, TellTheDifferenceOfScalesAndTheSquarenessFromOnePhoto) {
  std::mt19937 random(25);
  const Camera truth = camera_at(overhead(5.0));
  const std::vector<Vector3d> grid = burned_grid();
  const cv::Mat1b photo = draw_marks(truth, drawn(misburned(grid)), random);
  LocateOptions options = burned_options();
  const auto located = locate_by_marks(photo, lens_of(truth.lens), grid, options);
  ASSERT_TRUE(located.ok()) << located.reason();
  const auto figures = machine_figures(*located);
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
  LocateOptions options = burned_options();
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

TEST(MachineFigures, AndBeamMapNeedFiveMarks) {
  std::mt19937 random(27);
  const Camera truth = camera_at(overhead());
  LocateOptions options = burned_options();
  const auto located = locate_by_marks(draw_marks(truth, drawn(kEven), random), lens_of(truth.lens), kEven, options);
  ASSERT_TRUE(located.ok()) << located.reason();
  EXPECT_FALSE(machine_figures(*located).ok());
  EXPECT_FALSE(beam_map(*located).ok());
}

// A place as the machine must be told it, of a place that the camera sees: told, misburned, seen, and told again.
struct TellingErrors {
  double plain_mm = 0.0;      // as the camera sees it
  double corrected_mm = 0.0;  // through the map
  double in_sigmas = 0.0;     // the latter, each axis by what the camera states
};
TellingErrors telling_errors(const Camera& truth, const Camera& found, const BeamMap& map, double height_mm) {
  TellingErrors largest;
  for (double x = 60.0; x <= 300.0; x += 60.0)
    for (double y = 50.0; y <= 250.0; y += 50.0) {
      const Vector3d burned = misburned({{x, y, height_mm}}).front();
      const auto seen = bed_point_at(found, *project_bed_point(truth, burned), height_mm);
      if (!seen) return {1e9, 1e9, 1e9};
      const Vector2d off = map.at(seen->mm) - Vector2d(x, y);
      const Vector2d sigmas = off.cwiseAbs().cwiseQuotient(seen->covariance_mm2.diagonal().cwiseSqrt());
      largest.plain_mm = std::max(largest.plain_mm, (seen->mm - Vector2d(x, y)).norm());
      largest.corrected_mm = std::max(largest.corrected_mm, off.norm());
      largest.in_sigmas = std::max(largest.in_sigmas, sigmas.maxCoeff());
    }
  return largest;
}

// Left alone, scales that differ by 0.3 % and axes that lean by 0.1 degrees put the corners of a 240 mm bed off by
// 0.2 mm. Corrected, the marks' own noise is left (0.02 px, 0.01 mm) and, above the marks, what it leaves open of the
// camera's tilt: 0.002 rad at 11 mm are 0.02 mm.
TEST(BeamMap, TellsTheMachineWhereTheCameraSees) {
  std::mt19937 random(28);
  const Camera truth = camera_at(overhead(5.0));
  const std::vector<Vector3d> grid = burned_grid();
  LocateOptions options = burned_options();
  const LensRecord lens = lens_of(truth.lens);
  const auto located = locate_by_marks(draw_marks(truth, drawn(misburned(grid)), random), lens, grid, options);
  ASSERT_TRUE(located.ok()) << located.reason();
  EXPECT_EQ(located->used.size(), grid.size()) << "a machine's own error passed for a mark out of place";
  EXPECT_TRUE(located->machine_in_pose);
  const auto map = beam_map(*located);
  ASSERT_TRUE(map.ok()) << map.reason();
  for (const double height_mm : {3.0, 14.0}) {
    const TellingErrors errors = telling_errors(truth, located->pose.camera, *map, height_mm);
    EXPECT_GT(errors.plain_mm, 0.18) << height_mm;
    EXPECT_LE(errors.corrected_mm, 0.05) << height_mm;
    EXPECT_LE(errors.in_sigmas, 3.0) << height_mm;
    std::printf("at %g mm: left alone %.3f mm, corrected %.3f mm at most, %.1f sigma\n", height_mm, errors.plain_mm,
                errors.corrected_mm, errors.in_sigmas);
  }
  // a direction is turned as the chord between two corrected places is
  const Vector2d from(100.0, 80.0);
  const Vector2d to(200.0, 180.0);
  const Vector2d chord = map->at(to) - map->at(from);
  EXPECT_NEAR(map->turn_rad(rad_from_deg(45.0)), std::atan2(chord.y(), chord.x()) - rad_from_deg(45.0), 1e-12);
}

// Many sheets of a machine that is off, each mark repeated to 0.05 mm as a marks file states it unless told otherwise:
// figures and places scatter about the truth by what is stated, or less.
TEST(BurnedFit, StatesItsUncertainty) {
  std::mt19937 random(29);
  const Camera truth = camera_at(overhead(-3.0));
  const LensRecord lens = lens_of(truth.lens);
  std::normal_distribution<double> place(0.0, 0.05);
  std::normal_distribution<double> noise(0.0, 0.03);
  constexpr int kTrials = 300;
  const Vector3d corner(290.0, 60.0, 14.0);
  double place_squares = 0.0;
  double place_stated = 0.0;
  Vector2d figure_squares = Vector2d::Zero();
  Vector2d figure_stated = Vector2d::Zero();
  for (int trial = 0; trial < kTrials; ++trial) {
    std::vector<PlacedMark> marks;
    for (const Vector3d& mark : burned_grid()) {
      const Vector3d burned = misburned({mark}).front() + Vector3d(place(random), place(random), 0.0);
      marks.push_back({mark, *project_bed_point(truth, burned) + Vector2d(noise(random), noise(random)), 0.03});
    }
    LocatedPhoto located;
    const auto fit = fit_burned_marks(lens, marks, truth.camera_from_bed, 0.05);
    ASSERT_TRUE(fit.ok()) << fit.reason();
    located.burned = *fit;
    located.machine_in_pose = true;
    const auto map = beam_map(located);
    const auto seen =
        bed_point_at(fit->pose.camera, *project_bed_point(truth, misburned({corner}).front()), corner.z());
    place_squares += (map->at(seen->mm) - corner.head<2>()).squaredNorm();
    place_stated += seen->covariance_mm2.trace();
    figure_squares += Vector2d(fit->scale_x_less_y - 0.003, fit->squareness_rad - rad_from_deg(0.1)).cwiseAbs2();
    figure_stated += fit->covariance.diagonal();
  }
  // a ratio of variances over 300 trials is known to a tenth; sigma0, floored at 1, widens by about as much; what two
  // coordinates of one trial share makes the places' ratio no surer than that
  for (Eigen::Index i = 0; i < 2; ++i) EXPECT_NEAR(figure_stated[i] / figure_squares[i], 1.15, 0.4) << i;
  // places: stated for the camera's own frame, in which the figures' errors do not cancel
  EXPECT_GT(place_stated / place_squares, 0.8);
  std::printf("stated over seen variance: figures %.2f, %.2f; places %.2f (seen %.3f mm)\n",
              figure_stated[0] / figure_squares[0], figure_stated[1] / figure_squares[1], place_stated / place_squares,
              std::sqrt(place_squares / (2.0 * kTrials)));
}

// Of a machine without faults the pose is fitted without figures: it is the surer one, and nothing is corrected.
TEST(BurnedFit, IsLeftOutWhereTheMachineShowsNoFault) {
  std::mt19937 random(33);
  const Camera truth = camera_at(overhead(5.0));
  LocateOptions options = burned_options();
  const auto located =
      locate_by_marks(draw_marks(truth, drawn(burned_grid()), random), lens_of(truth.lens), burned_grid(), options);
  ASSERT_TRUE(located.ok()) << located.reason();
  ASSERT_TRUE(located->burned);
  EXPECT_FALSE(located->machine_in_pose);
  EXPECT_EQ(beam_map(*located)->beam_from_bed, Matrix2d(Matrix2d::Identity()));
  EXPECT_LE(largest_error_mm(truth, located->pose.camera), 0.06);
}

// A mark that the machine missed by 1.5 mm is none of the machine's scale.
TEST(BurnedFit, NamesTheMarkThatTheMachineMissed) {
  std::mt19937 random(34);
  const Camera truth = camera_at(overhead(5.0));
  const std::vector<Vector3d> grid = burned_grid();
  std::vector<Vector3d> burned = misburned(grid);
  burned[2] += Vector3d(1.2, -0.9, 0.0);
  LocateOptions options = burned_options();
  const auto located = locate_by_marks(draw_marks(truth, drawn(burned), random), lens_of(truth.lens), grid, options);
  ASSERT_TRUE(located.ok()) << located.reason();
  EXPECT_EQ(located->left_out, std::vector<std::size_t>{2});
  EXPECT_NEAR(located->burned->scale_x_less_y, 0.003, 2.0 * std::sqrt(located->burned->covariance(0, 0)));
}

TEST(MachineFigures, RefuseACameraFileOfAnotherBed) {
  std::mt19937 random(31);
  const Camera truth = camera_at(overhead(5.0));
  const std::vector<Vector3d> grid = burned_grid();
  LocateOptions options = burned_options();
  const auto located = locate_by_marks(draw_marks(truth, drawn(grid), random), lens_of(truth.lens), grid, options);
  ASSERT_TRUE(located.ok()) << located.reason();
  const auto compared = [&](double turn_deg, double shift_mm) {
    CameraRecord other = camera_record(truth.camera_from_bed);
    Rigid between;
    between.rotation = rotation_from_vector({0.0, 0.0, rad_from_deg(turn_deg)});
    between.translation = {shift_mm, 0.0, 0.0};
    other.camera.camera_from_bed = truth.camera_from_bed * between;
    return machine_figures(*located, other);
  };
  EXPECT_TRUE(compared(0.3, 2.0).ok());
  EXPECT_NE(compared(3.0, 0.0).reason().find("for another bed"), std::string::npos) << compared(3.0, 0.0).reason();
  EXPECT_NE(compared(0.0, 40.0).reason().find("40 mm apart"), std::string::npos) << compared(0.0, 40.0).reason();
}

// What is told when the marks declared are not those in the picture: each by its own cause.
struct OtherMarks {
  const char* name;
  std::vector<Vector3d> drawn;
  std::vector<Vector3d> declared;
  double field_mm;
  const char* says;
};
std::vector<Vector3d> lattice(int columns, int rows, double pitch_mm, const Vector3d& first = {60.0, 50.0, 3.0}) {
  std::vector<Vector3d> marks;
  for (int row = 0; row < rows; ++row)
    for (int column = 0; column < columns; ++column)
      marks.emplace_back(first + Vector3d(pitch_mm * column, pitch_mm * row, 0.0));
  return marks;
}
class MarksOfAnotherBed : public testing::TestWithParam<OtherMarks> {};
TEST_P(MarksOfAnotherBed, AreRefusedByTheirCause) {
  std::mt19937 random(32);
  const Camera truth = camera_at(overhead(3.0));
  LocateOptions options = burned_options();
  options.field_mm = GetParam().field_mm;
  const auto located = locate_by_marks(draw_marks(truth, drawn(GetParam().drawn), random), lens_of(truth.lens),
                                       GetParam().declared, options);
  ASSERT_FALSE(located.ok());
  EXPECT_NE(located.reason().find(GetParam().says), std::string::npos) << located.reason();
}
INSTANTIATE_TEST_SUITE_P(
    All, MarksOfAnotherBed,
    testing::Values(OtherMarks{"another_pattern",
                               kUneven,
                               {{30, 30, 0}, {330, 60, 0}, {60, 260, 0}, {300, 200, 0}, {200, 30, 0}},
                               8.0,
                               "these are for another sheet, fixture or bed"},
                    OtherMarks{"another_pitch", lattice(3, 3, 60.0), lattice(3, 3, 100.0), 8.0, "another field size"},
                    OtherMarks{"another_field", kUneven, kUneven, 16.0, "another field size"},
                    OtherMarks{"part_of_a_larger_pattern", lattice(3, 3, 60.0), lattice(5, 5, 60.0), 8.0,
                               "in several places"},
                    OtherMarks{"few_by_chance",
                               {{80, 70, 10}, {280, 70, 10}, {80, 220, 10}, {250, 230, 10}},
                               {{80, 70, 10},
                                {280, 70, 10},
                                {80, 220, 10},
                                {250, 230, 10},
                                {130, 100, 10},
                                {180, 130, 10},
                                {220, 180, 10},
                                {130, 180, 10},
                                {220, 110, 10}},
                               8.0,
                               "only 4 are where they are declared"},
                    OtherMarks{"three_in_a_line",
                               {{80, 70, 10}, {180, 70, 10}, {280, 70, 10}, {180, 220, 10}},
                               {{80, 70, 10}, {180, 70, 10}, {280, 70, 10}, {180, 220, 10}},
                               8.0,
                               "no three lie in one line"},
                    OtherMarks{"outside_the_picture",
                               {{80, 70, 10}, {280, 70, 10}, {900, 70, 10}, {900, 400, 10}, {80, 900, 10}},
                               {{80, 70, 10}, {280, 70, 10}, {900, 70, 10}, {900, 400, 10}, {80, 900, 10}},
                               8.0,
                               "only 2 marks are to be seen"}),
    [](const auto& param) { return param.param.name; });

}  // namespace
}  // namespace jigtrue
