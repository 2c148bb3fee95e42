#include "calibration/flat_boards.hpp"

#include "jigtrue/base/least_squares.hpp"
#include "jigtrue/base/products.hpp"

#include <cmath>

#include "calibration/seen_boards.hpp"

namespace jigtrue {

namespace {

using Pose6 = Eigen::Matrix<double, 6, 6>;

struct State {
  Rigid camera_from_first;
  std::vector<BoardPlace> places;
};

BoardPlace place_between(const Rigid& camera_from_first, const Rigid& camera_from_board) {
  const Rigid between = camera_from_first.inverse() * camera_from_board;
  return {between.translation.x(), between.translation.y(), std::atan2(between.rotation(1, 0), between.rotation(0, 0))};
}

// Blocks: the further boards' places; the first board gives the frame.
std::optional<ArrowSystem> linearise(const Lens& lens, const State& state, const std::vector<BoardPoints>& boards) {
  ArrowSystem system(6, boards.size() - 1, 3);
  for (std::size_t i = 0; i < boards.size(); ++i) {
    const Outcome<FlatView> there = flat_view(lens, state.camera_from_first, state.places[i], boards[i]);
    if (!there) return std::nullopt;
    const VectorXd error = -there->view.residual_px;
    if (i == 0) {
      system.add_shared(error, there->view.by_shared);
    } else {
      system.add(error, there->view.by_shared, i - 1, there->view.by_pose);
    }
    system.cost += there->squares_px2;
  }
  return system;
}

State moved_by(const State& from, const ArrowStep& step) {
  State to = from;
  to.camera_from_first.rotation = rotation_from_vector(step.shared.head<3>()) * from.camera_from_first.rotation;
  to.camera_from_first.translation += step.shared.tail<3>();
  for (std::size_t i = 1; i < to.places.size(); ++i) {
    to.places[i].x_mm += step.blocks[i - 1][0];
    to.places[i].y_mm += step.blocks[i - 1][1];
    to.places[i].turn_rad += step.blocks[i - 1][2];
  }
  return to;
}

// Of [lens, pose]: what the errors of the corners leave open, and what is known of lens and sheet carried over.
MatrixXd lens_and_poses_covariance(const PoseFromPhotos& pose, const HeldFixed& known, Eigen::Index lens_count) {
  const MatrixXd by_known = -times(pose.by_px, known.px_by);
  const MatrixXd with_known = times(by_known, known.covariance);
  MatrixXd joint(lens_count + 6, lens_count + 6);
  joint.topLeftCorner(lens_count, lens_count) = known.covariance.topLeftCorner(lens_count, lens_count);
  joint.bottomLeftCorner(6, lens_count) = with_known.leftCols(lens_count);
  joint.topRightCorner(lens_count, 6) = joint.bottomLeftCorner(6, lens_count).transpose();
  joint.bottomRightCorner(6, 6) = pose.covariance + propagated(by_known, known.covariance);
  return joint;
}

std::vector<Vector2d> corner_residuals(const FittedView& view) {
  const auto count = static_cast<Eigen::Index>(view.mm.size());
  std::vector<Vector2d> residuals;
  for (Eigen::Index i = 0; i < count; ++i) residuals.emplace_back(view.residual_px[i], view.residual_px[count + i]);
  return residuals;
}

}  // namespace

Rigid first_from_board(const BoardPlace& place) {
  return {rotation_from_vector({0.0, 0.0, place.turn_rad}), {place.x_mm, place.y_mm, 0.0}};
}

Outcome<FlatView> flat_view(const Lens& lens, const Rigid& camera_from_first, const BoardPlace& place,
                            const BoardPoints& points) {
  const auto count = static_cast<Eigen::Index>(points.seen.size());
  const Rigid from_board = first_from_board(place);
  FlatView result;
  result.view.by_shared.resize(2 * count, 6);
  result.view.by_pose.resize(2 * count, 3);
  result.view.residual_px.resize(2 * count);
  result.by_lens.resize(2 * count, lens.parameters.size());
  result.by_shape.resize(2 * count, points.by_shape.empty() ? 0 : 3);
  for (Eigen::Index i = 0; i < count; ++i) {
    const SeenPoint& point = points.seen[static_cast<std::size_t>(i)];
    const Vector3d spun = from_board.rotation * point.mm;
    const Vector3d turned = camera_from_first.rotation * (spun + from_board.translation);
    const auto there = project_with_jacobian(lens, turned + camera_from_first.translation, LensJacobian::yes);
    if (!there) return Failure{"the board's corners do not lie before the camera"};
    Eigen::Matrix<double, 2, 6> by_pose;
    by_pose << -there->by_point * cross_matrix(turned), there->by_point;
    Matrix3d by_place;  // x, y, turn
    by_place << 1, 0, -spun.y(), 0, 1, spun.x(), 0, 0, 0;
    const Eigen::Matrix<double, 2, 3> own = there->by_point * camera_from_first.rotation * by_place;
    if (!points.by_shape.empty()) {
      const Eigen::Matrix<double, 2, 3> shape = there->by_point * camera_from_first.rotation * from_board.rotation *
                                                points.by_shape[static_cast<std::size_t>(i)];
      result.by_shape.row(i) = shape.row(0);
      result.by_shape.row(count + i) = shape.row(1);
    }
    const Vector2d residual = point.px - there->px;
    for (const Eigen::Index axis : {0, 1}) {
      result.view.by_shared.row(axis * count + i) = by_pose.row(axis);
      result.view.by_pose.row(axis * count + i) = own.row(axis);
      result.by_lens.row(axis * count + i) = there->by_parameters.row(axis);
      result.view.residual_px[axis * count + i] = residual[axis];
    }
    result.view.mm.emplace_back(point.mm.head<2>());
    result.squares_px2 += residual.squaredNorm();
  }
  return result;
}

Outcome<FlatBoards> fit_flat_boards(const LensRecord& lens, const std::vector<BoardPoints>& boards,
                                    const std::vector<ViewPose>& alone) {
  State state{alone.front().camera_from_body, {}};
  for (const ViewPose& pose : alone)
    state.places.push_back(place_between(state.camera_from_first, pose.camera_from_body));
  if (boards.size() > 1) {  // a board alone is fitted already
    LeastSquaresOptions options;
    options.smallest_cost = 1e-18;
    const LeastSquaresSummary summary = minimise(
        state, [&](const State& at) { return linearise(lens.lens, at, boards); }, moved_by, options);
    if (summary.reason == StopReason::not_allowed || summary.reason == StopReason::stuck)
      return Failure{"no pose fits the boards inside the lens model's reach"};
    Matrix3d& rotation = state.camera_from_first.rotation;
    rotation = Eigen::Quaterniond(rotation).normalized().toRotationMatrix();
  }
  const std::optional<ArrowSystem> normal = linearise(lens.lens, state, boards);
  if (!normal || !inverse_shared(*normal)) return Failure{"the board's corners do not determine the pose"};
  FlatBoards result;
  result.camera_from_board = state.camera_from_first;
  result.places = state.places;
  std::vector<FittedView> views;
  const Eigen::Index lens_count = lens.lens.parameters.size();
  const bool shaped = lens.board_shape.has_value() && !boards.front().by_shape.empty();
  // the lens's parameters, then the sheet's shape
  HeldFixed known{MatrixXd(0, lens_count + (shaped ? 3 : 0)), known_covariance(lens, shaped),
                  lens.model_error_px / std::sqrt(2.0)};
  double count = 0.0;
  for (std::size_t i = 0; i < boards.size(); ++i) {
    Outcome<FlatView> there = flat_view(lens.lens, state.camera_from_first, state.places[i], boards[i]);
    if (!there) return there.failure();
    result.residuals_px.push_back(corner_residuals(there->view));
    if (i == 0) there->view.by_pose.resize(there->view.residual_px.size(), 0);  // its place is known
    const Eigen::Index rows = there->by_lens.rows();
    known.px_by.conservativeResize(known.px_by.rows() + rows, Eigen::NoChange);
    known.px_by.bottomRows(rows) << there->by_lens, there->by_shape;
    count += static_cast<double>(boards[i].seen.size());
    views.push_back(std::move(there->view));
  }
  const double freedom = 2.0 * count - 6.0 - 3.0 * static_cast<double>(boards.size() - 1);
  result.rms_px = std::sqrt(normal->cost / count);
  result.sigma0_px = std::sqrt(normal->cost / freedom);
  const PoseFromPhotos pose = pose_from_photos(views, {lens.noise_px, lens.together_px}, known);
  result.covariance = lens_and_poses_covariance(pose, known, lens_count);
  return result;
}

}  // namespace jigtrue
