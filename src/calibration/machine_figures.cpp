#include "jigtrue/calibration/machine_figures.hpp"

#include "jigtrue/base/least_squares.hpp"

#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr std::size_t kFewest = 5;
constexpr double kPlaceWeight = 4.0;  // as locate_by_marks counts what is known beforehand

Vector3d middle_of(const std::vector<Vector3d>& points) {
  Vector3d sum = Vector3d::Zero();
  for (const Vector3d& p : points) sum += p / static_cast<double>(points.size());
  return sum;
}

double pooled_variance(double prior_sigma, double squares, double freedom) {
  return (kPlaceWeight * prior_sigma * prior_sigma + squares) / (kPlaceWeight + freedom);
}

Figure figure(double value, double variance) { return {value, 2.0 * std::sqrt(std::max(variance, 0.0))}; }

// Pose and the two figures that one photo of a plane gives: eight unknowns, as many as a homography has.
struct ShapeState {
  Rigid camera_from_bed;
  double difference = 0.0;  // sx - sy
  double squareness = 0.0;  // rad
};

Vector3d shaped(const Vector3d& p, const Vector3d& middle, const ShapeState& s) {
  const Vector3d d = p - middle;
  return middle +
         Vector3d((1.0 + 0.5 * s.difference) * d.x() - s.squareness * d.y(), (1.0 - 0.5 * s.difference) * d.y(), d.z());
}

struct ShapeEquations {
  VectorXd residuals;  // px
  MatrixXd by_shape;   // rotation vector, translation, difference, squareness
  MatrixXd by_lens;
};

std::optional<ShapeEquations> equations(const Lens& lens, const PoseFit& pose, const ShapeState& state) {
  const auto n = static_cast<Eigen::Index>(pose.points_mm.size());
  const Eigen::Index lens_size = lens.parameters.size();
  ShapeEquations list{VectorXd(2 * n), MatrixXd(2 * n, 8), MatrixXd(2 * n, lens_size)};
  const Vector3d middle = middle_of(pose.points_mm);
  Camera camera;
  camera.lens = lens;
  camera.camera_from_bed = state.camera_from_bed;
  for (Eigen::Index i = 0; i < n; ++i) {
    const Vector3d& nominal = pose.points_mm[static_cast<std::size_t>(i)];
    const auto seen = project_bed_point_with_jacobian(camera, shaped(nominal, middle, state));
    if (!seen) return std::nullopt;
    const Vector3d d = nominal - middle;
    list.residuals.segment<2>(2 * i) = seen->px - pose.px[static_cast<std::size_t>(i)];
    list.by_shape.block<2, 6>(2 * i, 0) = seen->by_camera.rightCols(6);
    list.by_shape.block<2, 1>(2 * i, 6) = seen->by_bed_point * Vector3d(0.5 * d.x(), -0.5 * d.y(), 0.0);
    list.by_shape.block<2, 1>(2 * i, 7) = seen->by_bed_point * Vector3d(-d.y(), 0.0, 0.0);
    list.by_lens.middleRows<2>(2 * i) = seen->by_camera.leftCols(lens_size);
  }
  return list;
}

ShapeState moved(const ShapeState& state, const VectorXd& step) {
  ShapeState next = state;
  next.camera_from_bed.rotation = rotation_from_vector(step.head<3>()) * state.camera_from_bed.rotation;
  next.camera_from_bed.translation += step.segment<3>(3);
  next.difference += step[6];
  next.squareness += step[7];
  return next;
}

}  // namespace

Outcome<MachineFigures> machine_figures(const LocatedPhoto& located, const LensRecord& lens) {
  const PoseFit& pose = located.pose;
  if (pose.points_mm.size() < kFewest) return Failure{"at least five marks are needed"};
  ShapeState state{pose.camera.camera_from_bed, 0.0, 0.0};
  const auto linearise = [&](const ShapeState& at) -> std::optional<ArrowSystem> {
    const auto list = equations(lens.lens, pose, at);
    if (!list) return std::nullopt;
    ArrowSystem system(8, 0, 0);
    system.add_shared(list->residuals, list->by_shape);
    system.cost = list->residuals.squaredNorm();
    return system;
  };
  const auto move = [](const ShapeState& at, const ArrowStep& step) { return moved(at, step.shared); };
  minimise(state, linearise, move);
  const auto list = equations(lens.lens, pose, state);
  if (!list) return Failure{"the marks leave the lens's field"};
  const auto inverse = inverse_spd(list->by_shape.transpose() * list->by_shape);
  if (!inverse) return Failure{"the marks do not determine them"};
  const double mm_per_px = (state.camera_from_bed * middle_of(pose.points_mm)).norm() / lens.lens.focal_px().mean();
  const double squares = list->residuals.squaredNorm();
  const double freedom = static_cast<double>(list->residuals.size()) - 8.0;
  const double place_px = located.place_sigma_mm / mm_per_px;
  const double variance = pooled_variance(place_px, squares, freedom) + 0.5 * lens.model_error_px * lens.model_error_px;
  const MatrixXd by_lens = -(*inverse) * list->by_shape.transpose() * list->by_lens;
  const MatrixXd covariance = variance * (*inverse) + by_lens * lens.covariance * by_lens.transpose();
  MachineFigures figures;
  figures.marks = static_cast<int>(pose.points_mm.size());
  figures.scale_x_less_y = figure(state.difference, covariance(6, 6));
  const double deg = deg_from_rad(1.0);
  figures.squareness_deg = figure(state.squareness * deg, covariance(7, 7) * deg * deg);
  figures.rest_mm = std::sqrt(2.0 * squares / static_cast<double>(list->residuals.size())) * mm_per_px;
  return figures;
}

Outcome<MachineFigures> machine_figures(const LocatedPhoto& located, const CameraRecord& by_board) {
  const PoseFit& pose = located.pose;
  const auto n = static_cast<Eigen::Index>(pose.points_mm.size());
  if (pose.points_mm.size() < kFewest) return Failure{"at least five marks are needed"};
  const Vector3d middle = middle_of(pose.points_mm);
  VectorXd seen(2 * n);
  // shift x, y, turn, sx, sy, squareness: x' = ... linear, for all of them are small but the shift
  MatrixXd design = MatrixXd::Zero(2 * n, 6);
  MatrixXd by_camera(2 * n, by_board.camera.covariance.cols());
  double mm_per_px = 0.0;
  for (Eigen::Index i = 0; i < n; ++i) {
    const Vector3d& nominal = pose.points_mm[static_cast<std::size_t>(i)];
    const auto bed = bed_point_at(by_board.camera, pose.px[static_cast<std::size_t>(i)], nominal.z());
    if (!bed) return Failure{"a mark lies outside what the board's camera sees of the bed"};
    const auto there = project_bed_point_with_jacobian(by_board.camera, {bed->mm.x(), bed->mm.y(), nominal.z()});
    if (!there) return Failure{"a mark lies outside what the board's camera sees of the bed"};
    const Matrix2d bed_from_px = there->by_bed_point.leftCols<2>().inverse();
    mm_per_px = std::max(mm_per_px, std::sqrt(std::abs(bed_from_px.determinant())));
    by_camera.middleRows<2>(2 * i) = -bed_from_px * there->by_camera;
    const Vector2d d = (nominal - middle).head<2>();
    seen.segment<2>(2 * i) = bed->mm - nominal.head<2>();
    design.row(2 * i) << 1.0, 0.0, -d.y(), d.x(), 0.0, -d.y();
    design.row(2 * i + 1) << 0.0, 1.0, d.x(), 0.0, d.y(), 0.0;
  }
  const auto inverse = inverse_spd(design.transpose() * design);
  if (!inverse) return Failure{"the marks do not determine them"};
  const VectorXd fitted = *inverse * (design.transpose() * seen);
  // The turn between the frames is small but its square is not: taken out exactly. Shift aside, the map is
  // I + [[sx, -turn - q], [turn, sy]] = turned * [[1 + sx, -q], [0, 1 + sy]].
  Matrix2d map = Matrix2d::Identity();
  map += (Matrix2d() << fitted[3], -fitted[2] - fitted[5], fitted[2], fitted[4]).finished();
  const double turn = std::atan2(map(1, 0), map(0, 0));
  const Matrix2d shape = Eigen::Rotation2Dd(-turn) * map;
  constexpr double kSmallTurn = 0.02;
  if (std::abs(turn) > kSmallTurn)
    return Failure{
        "the two frames are turned against each other by more than a degree: is it the camera file of this bed?"};
  const double squares = (seen - design * fitted).squaredNorm();
  const double lens_mm = by_board.lens.model_error_px / std::sqrt(2.0) * mm_per_px;
  const double variance =
      pooled_variance(located.place_sigma_mm, squares, 2.0 * static_cast<double>(n) - 6.0) + lens_mm * lens_mm;
  const MatrixXd answer = -(*inverse) * design.transpose() * by_camera;
  const MatrixXd covariance = variance * (*inverse) + answer * by_board.camera.covariance * answer.transpose();
  MachineFigures figures;
  figures.marks = static_cast<int>(n);
  figures.scale_x = figure(shape(0, 0) - 1.0, covariance(3, 3));
  figures.scale_y = figure(shape(1, 1) - 1.0, covariance(4, 4));
  figures.scale_x_less_y =
      figure(shape(0, 0) - shape(1, 1), covariance(3, 3) + covariance(4, 4) - 2.0 * covariance(3, 4));
  const double deg = deg_from_rad(1.0);
  figures.squareness_deg = figure(-shape(0, 1) * deg, covariance(5, 5) * deg * deg);
  figures.rest_mm = std::sqrt(squares / static_cast<double>(n));
  return figures;
}

}  // namespace jigtrue
