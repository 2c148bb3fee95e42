#include "jigtrue/calibration/machine_figures.hpp"

#include "jigtrue/base/least_squares.hpp"
#include "jigtrue/base/products.hpp"
#include "jigtrue/calibration/mark_settings.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestForFigures = 5;  // as kFewestBurned

Vector3d mean_point(const std::vector<Vector3d>& points) {
  Vector3d sum = Vector3d::Zero();
  for (const Vector3d& p : points) sum += p / static_cast<double>(points.size());
  return sum;
}

double pooled_variance(double prior_sigma, double squares, double freedom) {
  return (kPriorWeight * prior_sigma * prior_sigma + squares) / (kPriorWeight + freedom);
}

Figure figure(double value, double variance) { return {value, 2.0 * std::sqrt(std::max(variance, 0.0))}; }

// Where the board's camera sees the marks, less where they were burned: linear in shift x, y, turn, scale x, scale y
// and squareness, for all of them are small but the shift.
struct FrameEquations {
  VectorXd seen;
  MatrixXd design;
  MatrixXd by_camera;
  double mm_per_px = 0.0;
};

// Nothing when a mark lies outside what the board's camera sees of the bed.
std::optional<FrameEquations> equations_of(const PoseFit& pose, std::size_t marks, const Camera& by_board) {
  const auto n = static_cast<Eigen::Index>(marks);
  const Vector3d middle = mean_point({pose.points_mm.begin(), pose.points_mm.begin() + n});
  FrameEquations equations{VectorXd(2 * n), MatrixXd::Zero(2 * n, 6), MatrixXd(2 * n, by_board.covariance.cols()), 0.0};
  for (Eigen::Index i = 0; i < n; ++i) {
    const Vector3d& nominal = pose.points_mm[static_cast<std::size_t>(i)];
    const auto bed = bed_point_at(by_board, pose.px[static_cast<std::size_t>(i)], nominal.z());
    if (!bed) return std::nullopt;
    const auto there = project_bed_point_with_jacobian(by_board, {bed->mm.x(), bed->mm.y(), nominal.z()});
    if (!there) return std::nullopt;
    const Matrix2d bed_from_px = there->by_bed_point.leftCols<2>().inverse();
    equations.mm_per_px = std::max(equations.mm_per_px, std::sqrt(std::abs(bed_from_px.determinant())));
    equations.by_camera.middleRows<2>(2 * i) = -bed_from_px * there->by_camera;
    const Vector2d d = (nominal - middle).head<2>();
    equations.seen.segment<2>(2 * i) = bed->mm - nominal.head<2>();
    equations.design.row(2 * i) << 1.0, 0.0, -d.y(), d.x(), 0.0, -d.y();
    equations.design.row(2 * i + 1) << 0.0, 1.0, d.x(), 0.0, d.y(), 0.0;
  }
  return equations;
}

// The turn between the frames is small but its square is not: taken out exactly. Shift aside, the map is
// I + [[sx, -turn - q], [turn, sy]] = turned * [[1 + sx, -q], [0, 1 + sy]].
struct FramesApart {
  double turn_rad = 0.0;
  Matrix2d shape = Matrix2d::Identity();
};
FramesApart frames_apart(const VectorXd& fitted) {
  Matrix2d map = Matrix2d::Identity();
  map += (Matrix2d() << fitted[3], -fitted[2] - fitted[5], fitted[2], fitted[4]).finished();
  const double turn = std::atan2(map(1, 0), map(0, 0));
  return {turn, Eigen::Rotation2Dd(-turn) * map};
}

// Further apart than a hand lays a board: common practice, no source.
std::optional<Failure> of_another_bed(const VectorXd& fitted, const FramesApart& apart) {
  constexpr double kSmallTurn = 0.02;  // rad
  constexpr double kFar_mm = 20.0;     // about the marks' own middle
  if (std::abs(apart.turn_rad) > kSmallTurn)
    return Failure{
        "the two frames are turned against each other by more than a degree: the marks file or the camera file is for "
        "another bed"};
  if (fitted.head<2>().norm() > kFar_mm)
    return Failure{"the two frames lie " + std::to_string(std::lround(fitted.head<2>().norm())) +
                   " mm apart: the marks file or the camera file is for another bed"};
  if (std::abs(apart.shape(0, 0) - 1.0) > kOddScale || std::abs(apart.shape(1, 1) - 1.0) > kOddScale)
    return Failure{
        "the two frames differ in scale by more than 2 %: the marks file or the camera file is for another bed"};
  return std::nullopt;
}

}  // namespace

Outcome<MachineFigures> machine_figures(const LocatedPhoto& located) {
  if (!located.burned) return Failure{"at least five marks are needed"};
  const BurnedFit& fit = *located.burned;
  MachineFigures figures;
  figures.marks = static_cast<int>(fit.pose.points_mm.size());
  figures.scale_x_less_y = figure(fit.scale_x_less_y, fit.covariance(0, 0));
  const double deg = deg_from_rad(1.0);
  figures.squareness_deg = figure(fit.squareness_rad * deg, fit.covariance(1, 1) * deg * deg);
  const Camera& camera = fit.pose.camera;
  figures.rest_mm = fit.pose.rms_px * (camera.camera_from_bed * mean_point(fit.pose.points_mm)).norm() /
                    camera.lens.focal_px().mean();
  return figures;
}

Outcome<MachineFigures> machine_figures(const LocatedPhoto& located, const CameraRecord& by_board) {
  const std::size_t marks = located.pose.first_count();  // a board laid beside them says nothing here
  if (marks < kFewestForFigures) return Failure{"at least five marks are needed"};
  const auto equations = equations_of(located.pose, marks, by_board.camera);
  if (!equations) return Failure{"a mark lies outside what the board's camera sees of the bed"};
  const auto inverse = inverse_spd(transpose_times(equations->design, equations->design));
  if (!inverse) return Failure{"the marks do not determine them"};
  const VectorXd fitted = times(*inverse, transpose_times(equations->design, equations->seen));
  const FramesApart apart = frames_apart(fitted);
  if (const auto failure = of_another_bed(fitted, apart)) return *failure;
  const double n = static_cast<double>(marks);
  const double squares = (equations->seen - equations->design * fitted).squaredNorm();
  const double lens_mm = by_board.lens.model_error_px / std::sqrt(2.0) * equations->mm_per_px;
  const double variance = pooled_variance(located.place_sigma_mm, squares, 2.0 * n - 6.0) + lens_mm * lens_mm;
  const MatrixXd answer = -times(*inverse, transpose_times(equations->design, equations->by_camera));
  const MatrixXd covariance = variance * (*inverse) + propagated(answer, by_board.camera.covariance);
  const Matrix2d& shape = apart.shape;
  MachineFigures figures;
  figures.marks = static_cast<int>(marks);
  figures.scale_x = figure(shape(0, 0) - 1.0, covariance(3, 3));
  figures.scale_y = figure(shape(1, 1) - 1.0, covariance(4, 4));
  figures.scale_x_less_y =
      figure(shape(0, 0) - shape(1, 1), covariance(3, 3) + covariance(4, 4) - 2.0 * covariance(3, 4));
  const double deg = deg_from_rad(1.0);
  figures.squareness_deg = figure(-shape(0, 1) * deg, covariance(5, 5) * deg * deg);
  figures.rest_mm = std::sqrt(squares / n);
  return figures;
}

Outcome<BeamMap> beam_map(const LocatedPhoto& located) {
  if (!located.burned) return Failure{"at least five marks are needed"};
  const BurnedFit& fit = *located.burned;
  BeamMap map;
  map.middle_mm = fit.middle_mm;
  map.covariance = fit.covariance;
  if (located.machine_in_pose) {
    Matrix2d burned;
    burned << 1.0 + 0.5 * fit.scale_x_less_y, -fit.squareness_rad, 0.0, 1.0 - 0.5 * fit.scale_x_less_y;
    map.beam_from_bed = burned.inverse();
  }
  return map;
}

}  // namespace jigtrue
