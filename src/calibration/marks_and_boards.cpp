#include "jigtrue/calibration/marks_and_boards.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/products.hpp"
#include "jigtrue/calibration/mark_settings.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/board_pose.hpp"
#include "calibration/flat_boards_check.hpp"
#include "calibration/format.hpp"
#include "calibration/joint_fit.hpp"
#include "calibration/plane_sigma.hpp"
#include "calibration/seen_boards.hpp"

namespace jigtrue {
namespace {

// Chance alone exceeds this once in ten thousand boards: chi-square of two degrees of freedom.
constexpr double kUnlikelyTilt = 18.421;

// How a board's normal stands off the bed's, two components in the bed's frame, and whether errors explain it.
struct Tilt {
  double rad = 0.0;
  double lift_mm = 0.0;  // at the board's farthest corner
  double chi_square = 0.0;
};
Tilt tilt_against(const JointTask& task, const JointFit& marks, const BoardPoints& board, const ViewPose& alone) {
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

JointState first_state(const JointTask& task, const LocatedPhoto& marks, const SeenBoards& seen) {
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
void add_board(const JointTask& task, const JointFit& fit, std::size_t i, const FlatBoardPhoto& photo, Eigen::Index row,
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

PoseFit marks_pose(const JointTask& task, const JointFit& fit) {
  PoseFit pose;
  pose.camera.lens = task.lens->lens;
  const auto list = burned_equations(task.lens->lens, task.marks, fit.state.marks);
  if (list) set_pose(pose, task.marks, *list, fit.state.marks);
  pose.sigma0_px = std::sqrt(fit.marks_scale) * task.marks.front().sigma_px;
  pose.camera.covariance = camera_covariance(task, fit);
  return pose;
}

PoseFit whole_pose(const JointTask& task, const JointFit& fit, const std::vector<FlatBoardPhoto>& photos) {
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

std::string against_marks(const JointTask& task, const JointFit& marks, const SeenBoards& seen,
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
BurnedFit burned_fit(const JointTask& task, const JointFit& fit) {
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
  JointTask task{&lens, marks_of(lens, marks), seen->boards, height_mm, true};
  JointState start = first_state({&lens, {}, {}, height_mm, marks.burned.has_value()}, marks, *seen);
  if (!(std::abs(start.stretch) <= kOddScale))
    return Failure{odd_scale(files.front(), start.stretch, boards.front().corners.board.square_mm)};
  // A machine's faults look like a tilt: what they may be is allowed for here, even of four marks.
  const auto by_marks = fit_marks(task, start);
  if (!by_marks) return Failure{"the marks do not determine the camera's place"};
  if (const std::string reason = against_marks(task, *by_marks, *seen, files); !reason.empty()) return Failure{reason};

  LocatedPhoto result = marks;
  const std::string undetermined = files.front() + ": no pose fits marks and boards together";
  std::optional<JointFit> fit;
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
