#include "calibration/joint_fit.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/least_squares.hpp"
#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "calibration/seen_boards.hpp"

namespace jigtrue {

namespace {

std::optional<JointState> minimised(const JointTask& task, const JointState& start, const MatrixXd& root) {
  const auto linearise = [&](const JointState& at) -> std::optional<ArrowSystem> {
    const auto marks = mark_equations(task, at);
    if (!marks) return std::nullopt;
    ArrowSystem system(marks->by_state.cols(), 0, 0);
    system.add_shared(marks->residual, marks->by_state);
    system.cost = marks->residual.squaredNorm();
    if (task.boards.empty()) return system;
    const auto boards = board_equations(task, at);
    if (!boards) return std::nullopt;
    const VectorXd residual = solve_lower(root, boards->residual);
    system.add_shared(residual, solve_lower(root, boards->by_state));
    system.cost += residual.squaredNorm();
    return system;
  };
  const auto move = [&](const JointState& at, const ArrowStep& step) { return moved(task, at, step.shared); };
  JointState state = start;
  LeastSquaresOptions options;
  options.smallest_cost = 1e-18;
  const LeastSquaresSummary summary = minimise(state, linearise, move, options);
  if (summary.reason == StopReason::not_allowed || summary.reason == StopReason::stuck) return std::nullopt;
  Matrix3d& rotation = state.marks.camera_from_bed.rotation;
  rotation = Eigen::Quaterniond(rotation).normalized().toRotationMatrix();
  return state;
}

std::optional<JointFit> fit_once(const JointTask& task, const JointState& start, const BoardErrors& errors) {
  const std::optional<MatrixXd> root = cholesky_factor(errors.weighed);
  if (!root) return std::nullopt;
  const auto state = minimised(task, start, *root);
  if (!state) return std::nullopt;
  auto marks = mark_equations(task, *state);
  auto boards = board_equations(task, *state);
  if (!marks || !boards) return std::nullopt;
  const MatrixXd weighed = solve_cholesky(*root, boards->by_state);
  const MatrixXd normal_of_marks = transpose_times(marks->by_state, marks->by_state);
  const auto inverse = inverse_spd(normal_of_marks + transpose_times(weighed, boards->by_state));
  if (!inverse) return std::nullopt;
  JointFit fit;
  fit.state = *state;
  fit.inverse = *inverse;
  fit.by_errors = propagated(*inverse, normal_of_marks + transpose_times(weighed, times(errors.noise, weighed)));
  fit.by_known =
      -times(*inverse, transpose_times(marks->by_state, marks->by_known) + transpose_times(weighed, boards->by_known));
  // of the marks' numbers those that boards cannot give count as used up: shift, turn, height, the machine's figures
  const double freedom = static_cast<double>(marks->residual.size()) - (task.with_machine ? 6.0 : 4.0);
  if (freedom > 0.0) fit.marks_scale = std::max(1.0, marks->residual.squaredNorm() / freedom);
  const double boards_freedom =
      static_cast<double>(boards->residual.size()) - 3.0 * static_cast<double>(task.boards.size());
  fit.boards_scale = std::max(1.0, solve_lower(*root, boards->residual).squaredNorm() / boards_freedom);
  fit.marks = std::move(*marks);
  fit.boards = std::move(*boards);
  return fit;
}

}  // namespace

std::optional<JointFit> fit_marks(JointTask task, const JointState& start) {
  task.boards.clear();
  const auto state = minimised(task, start, {});
  if (!state) return std::nullopt;
  auto marks = mark_equations(task, *state);
  if (!marks) return std::nullopt;
  const auto inverse = inverse_spd(transpose_times(marks->by_state, marks->by_state));
  if (!inverse) return std::nullopt;
  JointFit fit;
  fit.state = *state;
  fit.by_known = -times(*inverse, transpose_times(marks->by_state, marks->by_known));
  const double freedom = static_cast<double>(marks->residual.size() - marks->by_state.cols());
  if (freedom > 0.0) fit.marks_scale = std::max(1.0, marks->residual.squaredNorm() / freedom);
  fit.by_errors = fit.marks_scale * *inverse;
  fit.inverse = *inverse;
  fit.marks = std::move(*marks);
  return fit;
}

std::optional<JointFit> fit_all(JointTask task, const JointState& start) {
  const auto alone = fit_marks(task, start);
  if (!alone) return std::nullopt;
  const auto boards = board_equations(task, start);
  if (!boards) return std::nullopt;
  MatrixXd pose_by_known = MatrixXd::Zero(6, boards->by_known.cols());
  pose_by_known.leftCols(alone->by_known.cols()) = alone->by_known.topRows<6>();
  BoardErrors errors = board_errors(task, *boards, pose_by_known);
  auto fit = fit_once(task, start, errors);
  if (!fit || (fit->marks_scale == 1.0 && fit->boards_scale == 1.0)) return fit;
  for (PlacedMark& mark : task.marks) mark.sigma_px *= std::sqrt(fit->marks_scale);
  errors.noise *= fit->boards_scale;
  errors.weighed *= fit->boards_scale;
  return fit_once(task, fit->state, errors);
}

MatrixXd camera_covariance(const JointTask& task, const JointFit& fit) {
  const Eigen::Index n = task.lens->lens.parameters.size();
  const MatrixXd known = known_covariance(*task.lens, fit.by_known.cols() > n);
  const MatrixXd pose_by_known = fit.by_known.topRows<6>();
  const MatrixXd with_known = times(pose_by_known, known);
  MatrixXd joint(n + 6, n + 6);
  joint.topLeftCorner(n, n) = known.topLeftCorner(n, n);
  joint.bottomLeftCorner(6, n) = with_known.leftCols(n);
  joint.topRightCorner(n, 6) = joint.bottomLeftCorner(6, n).transpose();
  joint.bottomRightCorner(6, 6) = fit.by_errors.topLeftCorner<6, 6>() + propagated(pose_by_known, known);
  return 0.5 * (joint + joint.transpose());
}

MatrixXd covariance_of(const JointTask& task, const JointFit& fit, Eigen::Index at, Eigen::Index many) {
  const MatrixXd by_known = fit.by_known.middleRows(at, many);
  const double model = task.lens->model_error_px / std::sqrt(2.0) / task.marks.front().sigma_px;
  return fit.by_errors.block(at, at, many, many) +
         propagated(by_known, known_covariance(*task.lens, by_known.cols() > task.lens->lens.parameters.size())) +
         model * model * fit.inverse.block(at, at, many, many);
}

}  // namespace jigtrue
