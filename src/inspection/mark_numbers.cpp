#include "inspection/mark_numbers.hpp"

#include "jigtrue/base/coverage_factor.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

// How a point of a surface, seen at its pixel, moves on the bed with the camera's parameters; and with its height.
struct SightAnswer {
  MatrixXd by_camera;  // 2 x (n + 6), mm
  Vector2d by_height = Vector2d::Zero();
};
std::optional<SightAnswer> answer_of(const Camera& camera, const Vector3d& point) {
  const auto seen = project_bed_point_with_jacobian(camera, point);
  if (!seen) return std::nullopt;
  SightAnswer out;
  const Matrix2d plane = seen->by_bed_point.leftCols<2>();
  out.by_camera = -plane.inverse() * seen->by_camera;
  const Vector3d sight = point - camera.centre_mm();
  out.by_height = sight.head<2>() / sight.z();
  return out;
}

// How a direction on the surface, seen as it is, turns with the camera's parameters; rad.
MatrixXd turn_by_camera(const Camera& camera, const Vector3d& point, double heading_rad) {
  constexpr double kArm_mm = 10.0;  // of the direction: short against how the map bends
  const Vector3d arm(kArm_mm * std::cos(heading_rad), kArm_mm * std::sin(heading_rad), 0.0);
  const auto front = answer_of(camera, point + arm);
  const auto back = answer_of(camera, point - arm);
  if (!front || !back) return {};
  const Vector2d left(-std::sin(heading_rad), std::cos(heading_rad));
  return left.transpose() * (front->by_camera - back->by_camera) / (2.0 * kArm_mm);
}

// What the blank's place is uncertain by apart from what its mark shares: lens, pose and seat height. Of a lens's
// misfit, and of what a wrong lens does to directions, the mark shares little: it is shorter than the outline.
double blanks_own(const SlotNumbers& numbers, double BudgetShare::*what) {
  double square = 0.0;
  for (const BudgetShare& share : numbers.budget) {
    const bool turns = what == &BudgetShare::rotation_deg;
    const bool is_shared =
        share.name == cause::kPose || share.name == cause::kSeatHeight || (share.name == cause::kLens && !turns);
    if (!is_shared) square += (share.*what) * (share.*what);
  }
  return std::sqrt(square);
}

}  // namespace

MatrixXd causes_of(const Camera& camera) {
  if (camera.covariance.size() == 0) return {};
  const Eigen::SelfAdjointEigenSolver<MatrixXd> solver(camera.covariance);
  return solver.eigenvectors() * solver.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
}

MarkNumbers::MarkNumbers(const Camera& camera, const MatrixXd& causes, const MarkTask& task,
                         const InspectOptions& options)
    : task_(task), match_(*task.match) {
  mark_mm_ = task.frame.bed(match_.uv_mm);
  heading_ = task.frame.heading_rad + match_.turn_rad;
  const auto met = task.surface.met_at(mark_mm_);
  const Vector3d on_surface = met.value_or(Vector3d(mark_mm_.x(), mark_mm_.y(), task.surface.focus_mm));
  const auto mark = answer_of(camera, on_surface);
  const double height_sigma = task.slot->seat.height_tolerance_mm / std::sqrt(3.0);
  const double crown_sigma =
      std::hypot(is_flat(task.slot->blank.shape) ? 0.0 : 0.5 * task.girth_sigma_mm, task.cover_sigma_mm);
  const Eigen::Index count = causes.cols() + 3;
  shared_ = MatrixXd::Zero(2, count);
  turned_ = MatrixXd::Zero(1, count);
  relative_ = MatrixXd::Zero(2, count);
  if (!mark) return;
  if (causes.cols() > 0)
    if (const MatrixXd turn = turn_by_camera(camera, on_surface, heading_); turn.size() > 0)
      turned_.leftCols(causes.cols()) = turn * causes;
  Vector3d axis_point(task.frame.origin_mm.x(), task.frame.origin_mm.y(), on_surface.z());
  if (!is_flat(task.slot->blank.shape))
    axis_point.z() -= 0.5 * largest_diameter_mm(task.slot->blank.shape).value_or(0.0);
  const auto blank = answer_of(camera, axis_point);
  if (causes.cols() > 0) shared_.leftCols(causes.cols()) = mark->by_camera * causes;
  shared_.col(count - 3) = mark->by_height * height_sigma;
  const double px_per_mm = task.unrolled.px_per_mm.mean();
  const double model = options.lens_error_px / std::sqrt(2.0) / std::max(px_per_mm, 1e-6);
  shared_(0, count - 2) = model;
  shared_(1, count - 1) = model;
  crown_ = mark->by_height * crown_sigma;
  if (!blank) return;
  if (causes.cols() > 0) relative_.leftCols(causes.cols()) = (mark->by_camera - blank->by_camera) * causes;
  relative_.col(count - 3) = (mark->by_height - blank->by_height) * height_sigma;
}

void MarkNumbers::fill(InspectedSlot& out) const {
  out.mark_mm = mark_mm_;
  out.mark_deg = deg_from_rad(heading_);
  out.contrast = match_.contrast;
  out.contrast_u = kCoverageFactor95 * match_.contrast_sigma;
  out.halo = match_.halo;
  out.halo_u = kCoverageFactor95 * match_.halo_sigma;
  out.smoke = match_.smoke;
  if (match_.smoke) out.smoke_u = kCoverageFactor95 * match_.smoke_sigma;
  out.evenness = evenness();
  out.photo_from_mark = photo_from_mark();
  if (task_.measured) against_blank(out);
  if (task_.placed != nullptr) against_placed(out);
}

std::optional<BeamWitness> MarkNumbers::witness() const {
  if (task_.placed == nullptr) return std::nullopt;
  BeamWitness out;
  out.placed_mm = task_.placed->centre_mm;
  out.off_mm = mark_mm_ - out.placed_mm;
  out.own_mm2 = own_on_bed();
  out.heading_rad = rad_from_deg(task_.placed->axis_deg);
  out.turn_rad = turn_from_placed();
  out.turn_sigma_rad = turn_sigma();
  out.shared_mm = shared_;
  out.shared_turn_rad = turned_;
  return out;
}

Matrix2d MarkNumbers::frame_rotation() const {
  const double c = std::cos(task_.frame.heading_rad);
  const double s = std::sin(task_.frame.heading_rad);
  Matrix2d r;
  r << c, -s, s, c;
  return r;
}

Matrix2d MarkNumbers::own_on_bed() const {
  const Matrix2d r = frame_rotation();
  const Matrix2d match = match_.covariance.topLeftCorner<2, 2>();
  return Matrix2d(r * match * r.transpose() + crown_ * crown_.transpose());
}

double MarkNumbers::turn_sigma() const { return std::sqrt(std::max(match_.covariance(2, 2), 1e-12)); }

double MarkNumbers::turn_from_placed() const {
  return std::remainder(heading_ - rad_from_deg(task_.placed->axis_deg), 2.0 * kPi);
}

std::optional<Matrix3d> MarkNumbers::photo_from_mark() const {
  const SlotResult& blank = *task_.blank;
  if (!blank.sketch.photo_from_design) return std::nullopt;
  const PlanFrame design = blank.numbers ? PlanFrame{blank.numbers->centre_mm, rad_from_deg(blank.numbers->axis_deg)}
                                         : PlanFrame{blank.nominal_centre_mm, rad_from_deg(blank.nominal_axis_deg)};
  const Vector2d at = design.uv(mark_mm_);
  const double turn = heading_ - design.heading_rad;
  Matrix3d lay;
  lay << std::cos(turn), -std::sin(turn), at.x(), std::sin(turn), std::cos(turn), at.y(), 0.0, 0.0, 1.0;
  return Matrix3d(*blank.sketch.photo_from_design * lay);
}

std::optional<double> MarkNumbers::evenness() const {
  double mean = 0.0;
  double square = 0.0;
  double noise = 0.0;
  const auto n = static_cast<double>(match_.pieces.size());
  if (match_.pieces.size() < 3) return std::nullopt;
  for (const MarkPiece& piece : match_.pieces) mean += piece.contrast / n;
  for (const MarkPiece& piece : match_.pieces) {
    square += (piece.contrast - mean) * (piece.contrast - mean) / (n - 1.0);
    noise += piece.sigma * piece.sigma / n;
  }
  if (std::abs(mean) < 1e-6) return std::nullopt;
  return std::clamp(1.0 - std::sqrt(std::max(0.0, square - noise)) / std::abs(mean), 0.0, 1.0);
}

void MarkNumbers::against_blank(InspectedSlot& out) const {
  const SlotNumbers& numbers = *task_.blank->numbers;
  const Vector2d off = task_.frame.uv(mark_mm_);
  MarkOffset from;
  if (numbers.along_mm) from.along_mm = off.x();
  from.across_mm = off.y();
  out.from_blank_mm = from;
  out.rotation_deg = deg_from_rad(match_.turn_rad);
  const Matrix2d r = frame_rotation();
  const MatrixXd in_frame = r.transpose() * relative_;
  const Vector2d crown = r.transpose() * crown_;
  MarkUncertainty u;
  u.along_mm =
      kCoverageFactor95 * std::sqrt(match_.covariance(0, 0) + in_frame.row(0).squaredNorm() +
                                    std::pow(blanks_own(numbers, &BudgetShare::along_mm), 2) + crown.x() * crown.x());
  u.across_mm =
      kCoverageFactor95 * std::sqrt(match_.covariance(1, 1) + in_frame.row(1).squaredNorm() +
                                    std::pow(blanks_own(numbers, &BudgetShare::across_mm), 2) + crown.y() * crown.y());
  u.rotation_deg =
      kCoverageFactor95 * std::hypot(deg_from_rad(turn_sigma()), blanks_own(numbers, &BudgetShare::rotation_deg));
  out.uncertainty = u;
}

void MarkNumbers::against_placed(InspectedSlot& out) const {
  const PlanFrame placed{task_.placed->centre_mm, rad_from_deg(task_.placed->axis_deg)};
  const Vector2d off = placed.uv(mark_mm_);
  out.from_placed_mm = MarkOffset{off.x(), off.y()};
  const Matrix2d covariance = own_on_bed() + Matrix2d(shared_ * shared_.transpose());
  const double c = std::cos(placed.heading_rad);
  const double s = std::sin(placed.heading_rad);
  const Vector2d along(c, s);
  const Vector2d across(-s, c);
  MarkUncertainty u;
  u.along_mm = kCoverageFactor95 * std::sqrt(along.dot(covariance * along));
  u.across_mm = kCoverageFactor95 * std::sqrt(across.dot(covariance * across));
  u.rotation_deg = kCoverageFactor95 * deg_from_rad(std::hypot(turn_sigma(), turned_.norm()));
  out.placed_uncertainty = u;
  if (out.rotation_deg) return;
  out.rotation_deg = deg_from_rad(turn_from_placed());
  out.uncertainty = u;
}

}  // namespace jigtrue
