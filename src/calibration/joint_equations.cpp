#include "calibration/joint_equations.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/board_pose.hpp"
#include "calibration/seen_boards.hpp"

namespace jigtrue {

JointState moved(const JointTask& task, const JointState& from, const VectorXd& step) {
  JointState to = from;
  VectorXd of_marks = VectorXd::Zero(kBurnedUnknowns);
  of_marks.head(task.from_marks()) = step.head(task.from_marks());
  to.marks = moved(from.marks, of_marks);
  if (task.boards.empty()) return to;
  to.stretch += step[task.scale_at()];
  for (std::size_t i = 0; i < to.places.size(); ++i) {
    const Vector3d by = step.segment<3>(task.place_at(i));
    to.places[i].x_mm += by.x();
    to.places[i].y_mm += by.y();
    to.places[i].turn_rad += by.z();
  }
  return to;
}

std::optional<JointEquations> mark_equations(const JointTask& task, const JointState& at) {
  const auto list = burned_equations(task.lens->lens, task.marks, at.marks);
  if (!list) return std::nullopt;
  // without the machine's figures nothing is expected of them either
  const Eigen::Index rows = list->residuals.size() - (task.with_machine ? 0 : 2);
  const Eigen::Index unknowns = task.boards.empty() ? task.from_marks() : task.unknowns();
  JointEquations of{list->residuals.head(rows), MatrixXd::Zero(rows, unknowns),
                    MatrixXd::Zero(rows, list->by_lens.cols() + (task.shaped() ? 3 : 0))};
  of.by_state.leftCols(task.from_marks()) = list->by_state.topLeftCorner(rows, task.from_marks());
  of.by_known.leftCols(list->by_lens.cols()) = list->by_lens.topRows(rows);
  return of;
}

namespace {

BoardPoints stretched(const BoardPoints& points, double stretch) {
  BoardPoints list = points;
  for (SeenPoint& p : list.seen) p.mm *= 1.0 + stretch;
  return list;
}

}  // namespace

std::optional<JointEquations> board_equations(const JointTask& task, const JointState& at) {
  Eigen::Index rows = 0;
  for (const BoardPoints& board : task.boards) rows += 2 * static_cast<Eigen::Index>(board.seen.size());
  const Eigen::Index lens_count = task.lens->lens.parameters.size();
  JointEquations all{VectorXd(rows), MatrixXd::Zero(rows, task.unknowns()),
                     MatrixXd(rows, lens_count + (task.shaped() ? 3 : 0))};
  const Matrix3d& turn = at.marks.camera_from_bed.rotation;
  const Vector3d lift = turn.col(2) * task.height_mm;
  const Rigid camera_from_sheet{turn, at.marks.camera_from_bed.translation + lift};
  Eigen::Index row = 0;
  for (std::size_t i = 0; i < task.boards.size(); ++i) {
    const auto there =
        flat_view(task.lens->lens, camera_from_sheet, at.places[i], stretched(task.boards[i], at.stretch));
    if (!there) return std::nullopt;
    const FittedView& view = there->view;
    const auto count = static_cast<Eigen::Index>(task.boards[i].seen.size());
    const auto by_point = view.by_shared.rightCols<3>();
    auto by_state = all.by_state.middleRows(row, 2 * count);
    by_state.leftCols<6>() = view.by_shared;
    // a turn of the bed carries the sheet's plane along
    by_state.leftCols<3>() -= by_point * cross_matrix(lift);
    const Matrix3d turned = turn * first_from_board(at.places[i]).rotation;
    for (Eigen::Index j = 0; j < count; ++j) {
      const Vector3d by_scale = turned * task.boards[i].seen[static_cast<std::size_t>(j)].mm;
      for (const Eigen::Index r : {j, count + j}) by_state(r, task.scale_at()) = by_point.row(r).dot(by_scale);
    }
    by_state.middleCols<3>(task.place_at(i)) = view.by_pose;
    all.residual.segment(row, 2 * count) = -view.residual_px;
    all.by_known.middleRows(row, 2 * count) << there->by_lens, there->by_shape;
    row += 2 * count;
  }
  return all;
}

BoardErrors board_errors(const JointTask& task, const JointEquations& boards, const MatrixXd& pose_by_known) {
  const LensRecord& lens = *task.lens;
  const double alone = std::max(lens.noise_px, kLeastNoise_px);
  const double model = lens.model_error_px / std::sqrt(2.0);
  const MatrixXd against_marks = boards.by_known + times(boards.by_state.leftCols<6>(), pose_by_known);
  const Eigen::Index rows = boards.residual.size();
  BoardErrors errors{alone * alone * MatrixXd::Identity(rows, rows), {}};
  MatrixXd of_model = MatrixXd::Zero(rows, rows);
  Eigen::Index at = 0;
  for (const BoardPoints& board : task.boards) {
    std::vector<Vector2d> mm;
    mm.reserve(board.seen.size());
    for (const SeenPoint& p : board.seen) mm.emplace_back(p.mm.head<2>());
    const MatrixXd kin = correlation(mm, mm, reach_mm(mm));
    for (int axis = 0; axis < 2; ++axis) {
      errors.noise.block(at, at, kin.rows(), kin.rows()) += lens.together_px * lens.together_px * kin;
      of_model.block(at, at, kin.rows(), kin.rows()) += model * model * kin;
      at += kin.rows();
    }
  }
  errors.weighed = errors.noise + of_model + propagated(against_marks, known_covariance(lens, task.shaped()));
  return errors;
}

}  // namespace jigtrue
