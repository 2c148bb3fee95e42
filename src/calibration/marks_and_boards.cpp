#include "jigtrue/calibration/marks_and_boards.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/least_squares.hpp"
#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/board_pose.hpp"
#include "calibration/burned_equations.hpp"
#include "calibration/flat_boards.hpp"
#include "calibration/flat_boards_check.hpp"
#include "calibration/format.hpp"
#include "calibration/plane_sigma.hpp"
#include "calibration/seen_boards.hpp"

namespace jigtrue {
namespace {

// Chance alone exceeds this once in ten thousand boards: chi-square of two degrees of freedom.
constexpr double kUnlikelyTilt = 18.421;
// Neither print nor machine is off by so much: common practice, no source.
constexpr double kOddScale = 0.02;

struct JointState {
  BurnedState marks;
  double stretch = 0.0;  // of the boards' millimetres against the marks'
  std::vector<BoardPlace> places;
};

// What is fitted, and where each unknown stands among them: pose (6), the machine's two figures (2, if at all), the
// boards' scale (1), three of each board.
struct Task {
  const LensRecord* lens = nullptr;
  std::vector<PlacedMark> marks;  // sigma_px with the machine's share
  std::vector<BoardPoints> boards;
  double height_mm = 0.0;
  bool with_machine = false;
  [[nodiscard]] Eigen::Index from_marks() const { return with_machine ? kBurnedUnknowns : 6; }
  [[nodiscard]] Eigen::Index scale_at() const { return from_marks(); }
  [[nodiscard]] Eigen::Index place_at(std::size_t i) const {
    return from_marks() + 1 + 3 * static_cast<Eigen::Index>(i);
  }
  [[nodiscard]] Eigen::Index unknowns() const { return place_at(boards.size()); }
  [[nodiscard]] bool shaped() const { return !boards.empty() && !boards.front().by_shape.empty(); }
};

JointState moved(const Task& task, const JointState& from, const VectorXd& step) {
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

// Predicted less seen, and what moves it. Known: the lens's parameters, then the sheet's shape.
struct Equations {
  VectorXd residual;
  MatrixXd by_state;
  MatrixXd by_known;
};

std::optional<Equations> mark_equations(const Task& task, const JointState& at) {
  const auto list = burned_equations(task.lens->lens, task.marks, at.marks);
  if (!list) return std::nullopt;
  // without the machine's figures nothing is expected of them either
  const Eigen::Index rows = list->residuals.size() - (task.with_machine ? 0 : 2);
  const Eigen::Index unknowns = task.boards.empty() ? task.from_marks() : task.unknowns();
  Equations of{list->residuals.head(rows), MatrixXd::Zero(rows, unknowns),
               MatrixXd::Zero(rows, list->by_lens.cols() + (task.shaped() ? 3 : 0))};
  of.by_state.leftCols(task.from_marks()) = list->by_state.topLeftCorner(rows, task.from_marks());
  of.by_known.leftCols(list->by_lens.cols()) = list->by_lens.topRows(rows);
  return of;
}

BoardPoints stretched(const BoardPoints& points, double stretch) {
  BoardPoints list = points;
  for (SeenPoint& p : list.seen) p.mm *= 1.0 + stretch;
  return list;
}

// All boards' rows one below the other; of each board x of every corner, then y.
std::optional<Equations> board_equations(const Task& task, const JointState& at) {
  Eigen::Index rows = 0;
  for (const BoardPoints& board : task.boards) rows += 2 * static_cast<Eigen::Index>(board.seen.size());
  const Eigen::Index lens_count = task.lens->lens.parameters.size();
  Equations all{VectorXd(rows), MatrixXd::Zero(rows, task.unknowns()),
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

// Of the boards' corners, px^2: `noise` what each photo errs by itself; `weighed` also what the model misses the lens
// by, and what the uncertainty of lens and sheet moves the boards by against where the marks have put the bed.
struct CornerErrors {
  MatrixXd noise;
  MatrixXd weighed;
};
CornerErrors corner_errors(const Task& task, const Equations& boards, const MatrixXd& pose_by_known) {
  const LensRecord& lens = *task.lens;
  const double alone = std::max(lens.noise_px, kLeastNoise_px);
  const double model = lens.model_error_px / std::sqrt(2.0);
  const MatrixXd against_marks = boards.by_known + times(boards.by_state.leftCols<6>(), pose_by_known);
  const Eigen::Index rows = boards.residual.size();
  CornerErrors errors{alone * alone * MatrixXd::Identity(rows, rows), {}};
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

std::optional<JointState> minimised(const Task& task, const JointState& start, const MatrixXd& root) {
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

// A fit with what is left open: by errors of marks and corners, and by what is known.
struct Fitted {
  JointState state;
  Equations marks;
  Equations boards;
  MatrixXd inverse;          // of the normal matrix
  MatrixXd by_errors;        // covariance of the unknowns
  MatrixXd by_known;         // d unknowns / d known
  double marks_scale = 1.0;  // variances found over foreseen, at least 1
  double boards_scale = 1.0;
};

// The marks by themselves.
std::optional<Fitted> fit_marks(Task task, const JointState& start) {
  task.boards.clear();
  const auto state = minimised(task, start, {});
  if (!state) return std::nullopt;
  auto marks = mark_equations(task, *state);
  if (!marks) return std::nullopt;
  const auto inverse = inverse_spd(transpose_times(marks->by_state, marks->by_state));
  if (!inverse) return std::nullopt;
  Fitted fit;
  fit.state = *state;
  fit.by_known = -times(*inverse, transpose_times(marks->by_state, marks->by_known));
  const double freedom = static_cast<double>(marks->residual.size() - marks->by_state.cols());
  if (freedom > 0.0) fit.marks_scale = std::max(1.0, marks->residual.squaredNorm() / freedom);
  fit.by_errors = fit.marks_scale * *inverse;
  fit.inverse = *inverse;
  fit.marks = std::move(*marks);
  return fit;
}

std::optional<Fitted> fit_once(const Task& task, const JointState& start, const CornerErrors& errors) {
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
  Fitted fit;
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

// Marks or boards that scatter more than foreseen count for less.
std::optional<Fitted> fit_all(Task task, const JointState& start) {
  const auto alone = fit_marks(task, start);
  if (!alone) return std::nullopt;
  const auto boards = board_equations(task, start);
  if (!boards) return std::nullopt;
  MatrixXd pose_by_known = MatrixXd::Zero(6, boards->by_known.cols());
  pose_by_known.leftCols(alone->by_known.cols()) = alone->by_known.topRows<6>();
  CornerErrors errors = corner_errors(task, *boards, pose_by_known);
  auto fit = fit_once(task, start, errors);
  if (!fit || (fit->marks_scale == 1.0 && fit->boards_scale == 1.0)) return fit;
  for (PlacedMark& mark : task.marks) mark.sigma_px *= std::sqrt(fit->marks_scale);
  errors.noise *= fit->boards_scale;
  errors.weighed *= fit->boards_scale;
  return fit_once(task, fit->state, errors);
}

MatrixXd camera_covariance(const Task& task, const Fitted& fit) {
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

// Covariance of `many` unknowns from `at` on, what is known and what the model misses the lens by included.
MatrixXd covariance_of(const Task& task, const Fitted& fit, Eigen::Index at, Eigen::Index many) {
  const MatrixXd by_known = fit.by_known.middleRows(at, many);
  const double model = task.lens->model_error_px / std::sqrt(2.0) / task.marks.front().sigma_px;
  return fit.by_errors.block(at, at, many, many) +
         propagated(by_known, known_covariance(*task.lens, by_known.cols() > task.lens->lens.parameters.size())) +
         model * model * fit.inverse.block(at, at, many, many);
}

// How a board's normal stands off the bed's, two components in the bed's frame, and whether errors explain it.
struct Tilt {
  double rad = 0.0;
  double lift_mm = 0.0;  // at the board's farthest corner
  double chi_square = 0.0;
};
Tilt tilt_against(const Task& task, const Fitted& marks, const BoardPoints& board, const ViewPose& alone) {
  const Matrix3d back = marks.state.marks.camera_from_bed.rotation.transpose();
  const Matrix3d& turn = alone.camera_from_body.rotation;
  const Vector3d normal = back * turn.col(2);
  const Eigen::Matrix<double, 2, 3> by_turn = (-back * cross_matrix(turn.col(2))).topRows<2>();
  const MovedPose board_moved = moved_by(*task.lens, board, alone);
  const Eigen::Index n = task.lens->lens.parameters.size();
  const MatrixXd by_lens = times(by_turn, board_moved.by_lens.topRows<3>() - marks.by_known.topLeftCorner(3, n));
  const double model = task.lens->model_error_px / std::sqrt(2.0) / task.marks.front().sigma_px;
  const Matrix3d of_marks = marks.by_errors.topLeftCorner<3, 3>() + model * model * marks.inverse.topLeftCorner<3, 3>();
  const Matrix2d covariance =
      by_turn * (of_marks + board_moved.covariance.topLeftCorner<3, 3>()) * by_turn.transpose() +
      propagated(by_lens, task.lens->covariance);
  Tilt tilt;
  tilt.rad = std::atan2(normal.head<2>().norm(), normal.z());
  tilt.chi_square = normal.head<2>().dot(covariance.inverse() * normal.head<2>());
  const Vector3d middle = middle_of(board);
  for (const SeenPoint& p : board.seen)
    tilt.lift_mm = std::max(tilt.lift_mm, std::abs((back * turn * (p.mm - middle)).z()));
  return tilt;
}

// The board's own pose, carried along the sight of its middle to the height that it is told to lie at.
BoardPlace first_place(const Rigid& camera_from_bed, const BoardPoints& board, const ViewPose& alone, double height_mm,
                       double& stretch) {
  const Rigid bed_from_board = camera_from_bed.inverse() * alone.camera_from_body;
  const Vector3d eye = camera_from_bed.inverse().translation;
  const Vector3d middle = bed_from_board * middle_of(board);
  stretch = (eye.z() - height_mm) / (eye.z() - middle.z()) - 1.0;
  const Vector3d origin = eye + (1.0 + stretch) * (bed_from_board.translation - eye);
  return {origin.x(), origin.y(), std::atan2(bed_from_board.rotation(1, 0), bed_from_board.rotation(0, 0))};
}

JointState first_state(const Task& task, const LocatedPhoto& marks, const SeenBoards& seen) {
  JointState state;
  state.marks.camera_from_bed = marks.pose.camera.camera_from_bed;
  if (task.with_machine) {
    state.marks = {marks.burned->pose.camera.camera_from_bed, marks.burned->scale_x_less_y,
                   marks.burned->squareness_rad};
  }
  for (std::size_t i = 0; i < seen.boards.size(); ++i) {
    double stretch = 0.0;
    state.places.push_back(
        first_place(state.marks.camera_from_bed, seen.boards[i], seen.alone[i], task.height_mm, stretch));
    state.stretch += stretch / static_cast<double>(seen.boards.size());
  }
  return state;
}

// The board's origin is its outer corner; corner points are told from it.
void add_board(const Task& task, const Fitted& fit, std::size_t i, const FlatBoardPhoto& photo, Eigen::Index row,
               PoseFit& pose) {
  const BoardPlace& place = fit.state.places[i];
  const std::vector<SeenPoint>& seen = task.boards[i].seen;
  const auto count = static_cast<Eigen::Index>(seen.size());
  FoundBoard found{photo.file, place.x_mm, place.y_mm, deg_from_rad(place.turn_rad), 0.0, photo.corners};
  found.angle_deg -= 360.0 * std::round(found.angle_deg / 360.0);
  const Rigid from_board = first_from_board(place);
  double squares = 0.0;
  for (Eigen::Index j = 0; j < count; ++j) {
    const SeenPoint& point = seen[static_cast<std::size_t>(j)];
    const Vector2d residual = -Vector2d(fit.boards.residual[row + j], fit.boards.residual[row + count + j]);
    pose.points_mm.emplace_back(from_board * ((1.0 + fit.state.stretch) * point.mm) +
                                Vector3d(0.0, 0.0, task.height_mm));
    pose.px.push_back(point.px);
    pose.residuals_px.push_back(residual);
    squares += residual.squaredNorm();
  }
  found.rms_px = std::sqrt(squares / static_cast<double>(count));
  pose.further.push_back(std::move(found));
}

PoseFit marks_pose(const Task& task, const Fitted& fit) {
  PoseFit pose;
  pose.camera.lens = task.lens->lens;
  const auto list = burned_equations(task.lens->lens, task.marks, fit.state.marks);
  if (list) set_pose(pose, task.marks, *list, fit.state.marks);
  pose.sigma0_px = std::sqrt(fit.marks_scale) * task.marks.front().sigma_px;
  pose.camera.covariance = camera_covariance(task, fit);
  return pose;
}

PoseFit whole_pose(const Task& task, const Fitted& fit, const std::vector<FlatBoardPhoto>& photos) {
  PoseFit pose = marks_pose(task, fit);
  Eigen::Index row = 0;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    add_board(task, fit, i, photos[i], row, pose);
    row += 2 * static_cast<Eigen::Index>(task.boards[i].seen.size());
  }
  double squares = 0.0;
  for (const Vector2d& r : pose.residuals_px) squares += r.squaredNorm();
  const double count = static_cast<double>(pose.residuals_px.size());
  pose.rms_px = std::sqrt(squares / count);
  pose.sigma0_px = std::sqrt(squares / (2.0 * count - static_cast<double>(task.unknowns())));
  return pose;
}

std::string scale_note(double stretch, double u95, std::size_t boards) {
  return format(
      "by the marks the board's squares measure %+.3f %% +/- %.3f %% against what is declared (%zu photo%s): the "
      "print, the machine's scale or the heights given differ by so much; the map goes by the marks",
      100.0 * stretch, 100.0 * u95, boards, boards == 1 ? "" : "s");
}

std::string odd_scale(const std::string& file, double stretch, double square_mm) {
  return file + format(
                    ": by the marks the board's squares measure %.2f mm, declared are %.2f mm; check --board, "
                    "--board-height and that the marks file is this sheet's",
                    (1.0 + stretch) * square_mm, square_mm);
}

std::string against_marks(const Task& task, const Fitted& marks, const SeenBoards& seen,
                          const std::vector<std::string>& files) {
  for (std::size_t i = 0; i < files.size(); ++i) {
    const Tilt tilt = tilt_against(task, marks, seen.boards[i], seen.alone[i]);
    if (tilt.lift_mm <= kHarmlessLift_mm || tilt.chi_square <= kUnlikelyTilt) continue;
    return files[i] +
           format(
               ": its board is tilted by %.2f degrees against the plane of the marks; lay both flat on the bed and "
               "take all photos without touching the camera, or leave this one out",
               deg_from_rad(tilt.rad));
  }
  return {};
}

std::vector<PlacedMark> marks_of(const LensRecord& lens, const LocatedPhoto& marks) {
  std::vector<PlacedMark> list;
  for (std::size_t i = 0; i < marks.used.size(); ++i)
    list.push_back({marks.pose.points_mm[i], marks.pose.px[i], marks.used[i].sigma_px});
  return with_place_sigma(lens.lens, std::move(list), marks.pose.camera.camera_from_bed, marks.place_sigma_mm);
}

// Figures of the machine as the boards leave them.
BurnedFit burned_fit(const Task& task, const Fitted& fit) {
  BurnedFit burned;
  burned.pose = marks_pose(task, fit);
  burned.middle_mm = middle_of(task.marks).head<2>();
  burned.scale_x_less_y = fit.state.marks.scale_x_less_y;
  burned.squareness_rad = fit.state.marks.squareness_rad;
  burned.covariance = covariance_of(task, fit, 6, 2);
  return burned;
}

}  // namespace

Outcome<LocatedPhoto> strengthen_by_boards(const LensRecord& lens, const LocatedPhoto& marks,
                                           const std::vector<FlatBoardPhoto>& boards, double height_mm) {
  if (boards.empty()) return marks;
  std::vector<std::string> files;
  files.reserve(boards.size());
  for (const FlatBoardPhoto& photo : boards) files.push_back(photo.file);
  const Outcome<SeenBoards> seen = seen_boards(lens, boards);
  if (!seen) return seen.failure();
  if (const std::string reason = contradiction(lens, files, seen->boards, seen->alone); !reason.empty())
    return Failure{reason};
  Task task{&lens, marks_of(lens, marks), seen->boards, height_mm, true};
  JointState start = first_state({&lens, {}, {}, height_mm, marks.burned.has_value()}, marks, *seen);
  if (!(std::abs(start.stretch) <= kOddScale))
    return Failure{odd_scale(files.front(), start.stretch, boards.front().corners.board.square_mm)};
  // A machine's faults look like a tilt: what they may be is allowed for here, even of four marks.
  const auto by_marks = fit_marks(task, start);
  if (!by_marks) return Failure{"the marks do not determine the camera's place"};
  if (const std::string reason = against_marks(task, *by_marks, *seen, files); !reason.empty()) return Failure{reason};

  LocatedPhoto result = marks;
  const std::string undetermined = files.front() + ": no pose fits marks and boards together";
  std::optional<Fitted> fit;
  if (marks.burned) {
    fit = fit_all(task, start);
    if (!fit) return Failure{undetermined};
    result.burned = burned_fit(task, *fit);
    result.machine_in_pose = marks.machine_in_pose || result.burned->significant();
  }
  task.with_machine = result.machine_in_pose;
  if (!task.with_machine) {
    start.marks = {marks.pose.camera.camera_from_bed, 0.0, 0.0};
    fit = fit_all(task, start);
    if (!fit) return Failure{undetermined};
  }
  result.pose = whole_pose(task, *fit, boards);
  if (!(result.pose.camera.centre_mm().z() > 0.0))
    return Failure{files.front() + ": the camera would stand below the bed"};
  result.pose.notes = marks.pose.notes;
  if (!seen->note.empty()) result.pose.notes.push_back(seen->note);
  const auto& pose = result.pose.camera;
  result.pose.notes.push_back(gain_note("the marks alone", boards.size(),
                                        plane_sigma(marks.pose.camera.covariance, marks.pose.camera.camera_from_bed),
                                        plane_sigma(pose.covariance, pose.camera_from_bed)));
  const double u95 = 2.0 * std::sqrt(covariance_of(task, *fit, task.scale_at(), 1)(0, 0));
  result.pose.notes.push_back(scale_note(fit->state.stretch, u95, boards.size()));
  return result;
}

}  // namespace jigtrue
