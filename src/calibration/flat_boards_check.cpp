#include "calibration/flat_boards_check.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <stdexcept>

namespace jigtrue {

namespace {

// Chance alone exceeds this once in ten thousand pairs: chi-square of three degrees of freedom.
constexpr double kUnlikelyStep = 21.108;

using Rows = Eigen::Matrix<double, 3, 6>;

struct Fault {
  std::size_t photo = 0;
  std::size_t against = 0;
  PlaneStep step;
};

std::string explain(const Fault& fault, const std::vector<std::string>& files, double distance_mm) {
  char text[400];
  std::snprintf(
      text, sizeof text,
      ": its board does not lie in the plane of that in %s: it is tilted by %.2f degrees against it and its "
      "middle stands %.1f mm %s, as a board with squares %.1f %% %s would; lay the same board flat on the bed "
      "and take all photos without touching the camera, or leave this one out",
      files[fault.against].c_str(), deg_from_rad(fault.step.tilt_rad), std::abs(fault.step.rise_mm),
      fault.step.rise_mm > 0.0 ? "higher" : "lower", 100.0 * std::abs(fault.step.rise_mm) / distance_mm,
      fault.step.rise_mm > 0.0 ? "larger" : "smaller");
  return files[fault.photo] + text;
}

Vector2d middle_px(const BoardPoints& board) {
  Vector2d sum = Vector2d::Zero();
  for (const SeenPoint& p : board.seen) sum += p.px / static_cast<double>(board.seen.size());
  return sum;
}

double reach_px(const BoardPoints& board) {
  double sum = 0.0;
  for (const SeenPoint& p : board.seen) sum += (p.px - middle_px(board)).squaredNorm();
  return std::sqrt(sum / static_cast<double>(board.seen.size()));
}

bool same_corners(const BoardPoints& a, const BoardPoints& b) {
  if (a.seen.size() != b.seen.size()) return false;
  for (std::size_t i = 0; i < a.seen.size(); ++i)
    if ((a.seen[i].mm - b.seen[i].mm).norm() > 1e-6) return false;
  return true;
}

// Where both show the same corners, those lie within a tenth of the board of each other; of parts, which count from
// corners of their own, the middles do and their sizes are alike.
bool lie_alike(const BoardPoints& a, const BoardPoints& b) {
  constexpr double kTenth = 0.3;  // of the reach about the middle, which is a third of a board's length
  if (!same_corners(a, b))
    return (middle_px(a) - middle_px(b)).norm() < kTenth * reach_px(a) &&
           std::abs(reach_px(a) / reach_px(b) - 1.0) < 0.1;
  double sum = 0.0;
  for (std::size_t i = 0; i < a.seen.size(); ++i) sum += (a.seen[i].px - b.seen[i].px).norm();
  return sum < kTenth * reach_px(a) * static_cast<double>(a.seen.size());
}

}  // namespace

Vector3d middle_of(const BoardPoints& points) {
  Vector3d sum = Vector3d::Zero();
  for (const SeenPoint& p : points.seen) sum += p.mm / static_cast<double>(points.seen.size());
  return sum;
}

MovedPose moved_by(const LensRecord& lens, const BoardPoints& points, const ViewPose& pose) {
  Outcome<FlatView> there = flat_view(lens.lens, pose.camera_from_body, {}, points);
  if (!there) throw std::logic_error("a fitted board does not project: " + there.reason());
  there->view.by_pose.resize(there->view.residual_px.size(), 0);
  // what the model misses the lens by differs from place to place in the picture, but hardly within a quarter board
  const double together = std::hypot(lens.together_px, lens.model_error_px / std::sqrt(2.0));
  const PoseFromPhotos from = pose_from_photos({there->view}, {lens.noise_px, together});
  return {from.covariance, -from.by_px * there->by_lens};
}

PlaneStep plane_step(const LensRecord& lens, const BoardPoints& first, const ViewPose& first_pose,
                     const BoardPoints& second, const ViewPose& second_pose) {
  const Rigid& a = first_pose.camera_from_body;
  const Rigid& b = second_pose.camera_from_body;
  const Rigid between = a.inverse() * b;
  const Vector3d middle = b.rotation * middle_of(second);
  PlaneStep step;
  // two components of the second normal in the first one's plane, and the second middle's height above it
  const Vector3d state(between.rotation(0, 2), between.rotation(1, 2), (between * middle_of(second)).z());
  step.tilt_rad = std::atan2(state.head<2>().norm(), between.rotation(2, 2));
  step.rise_mm = state.z();
  for (const SeenPoint& p : second.seen) step.lift_mm = std::max(step.lift_mm, std::abs((between * p.mm).z()));
  const Matrix3d back = a.rotation.transpose();
  const Matrix3d by_turn = -back * cross_matrix(b.rotation.col(2));
  Rows by_second = Rows::Zero();
  Rows by_first = Rows::Zero();
  by_second.topLeftCorner<2, 3>() = by_turn.topRows<2>();
  by_first.topLeftCorner<2, 3>() = -by_turn.topRows<2>();
  by_second.row(2) << -back.row(2) * cross_matrix(middle), back.row(2);
  by_first.row(2) << back.row(2) * cross_matrix(middle + b.translation - a.translation), -back.row(2);
  const MovedPose one = moved_by(lens, first, first_pose);
  const MovedPose other = moved_by(lens, second, second_pose);
  const MatrixXd by_lens = times(by_first, one.by_lens) + times(by_second, other.by_lens);
  const Matrix3d covariance = propagated(by_first, one.covariance) + propagated(by_second, other.covariance) +
                              propagated(by_lens, lens.covariance);
  // in units of each one's sigma: radians and millimetres differ in size
  const Vector3d scale = covariance.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
  const Matrix3d unit = scale.asDiagonal() * covariance * scale.asDiagonal();
  const Vector3d scaled = scale.asDiagonal() * state;
  step.chi_square = scaled.dot(Vector3d(solve_least_squares(unit, scaled)));
  return step;
}

std::string contradiction(const LensRecord& lens, const std::vector<std::string>& files,
                          const std::vector<BoardPoints>& boards, const std::vector<ViewPose>& alone) {
  const auto against = [&](std::size_t i, std::size_t j) -> std::optional<Fault> {
    const PlaneStep step = plane_step(lens, boards[j], alone[j], boards[i], alone[i]);
    if (step.lift_mm <= kHarmlessLift_mm || step.chi_square <= kUnlikelyStep) return std::nullopt;
    return Fault{i, j, step};
  };
  for (std::size_t i = 1; i < boards.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      if (lie_alike(boards[i], boards[j]))
        return files[i] + ": its board lies where that in " + files[j] +
               " lies, which tells nothing new; lay it elsewhere on the bed, or leave this photo out";
  std::vector<Fault> faults;
  for (std::size_t i = 1; i < boards.size(); ++i)
    if (const auto fault = against(i, 0)) faults.push_back(*fault);
  if (faults.empty()) return {};
  Fault named = faults.front();
  // others that agree among themselves outvote the first
  if (boards.size() > 2 && faults.size() + 1 == boards.size()) {
    bool agree = true;
    for (std::size_t i = 2; i < boards.size(); ++i) agree = agree && !against(i, 1);
    const auto first = agree ? against(0, 1) : std::nullopt;
    if (first) named = *first;
  }
  return explain(named, files, alone[named.against].camera_from_body.inverse().translation.z());
}

}  // namespace jigtrue
