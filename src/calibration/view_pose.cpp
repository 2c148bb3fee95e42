#include "jigtrue/calibration/view_pose.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/least_squares.hpp"

#include <cmath>

namespace jigtrue {

namespace {

struct Linear2x6 {
  Vector2d residual;
  Eigen::Matrix<double, 2, 6> by_pose;
  LensJacobian2 by_lens;
};

// Predicted less seen, and its Jacobians.
std::optional<Linear2x6> linearise_point(const Lens& lens, const Rigid& pose, const SeenPoint& point,
                                         LensJacobian by_lens) {
  const Vector3d turned = pose.rotation * point.mm;
  const std::optional<Projection> there = project_with_jacobian(lens, turned + pose.translation, by_lens);
  if (!there) return std::nullopt;
  Linear2x6 result;
  result.residual = there->px - point.px;
  result.by_pose.leftCols<3>() = -there->by_point * cross_matrix(turned);
  result.by_pose.rightCols<3>() = there->by_point;
  if (by_lens == LensJacobian::yes) result.by_lens = there->by_parameters;
  return result;
}

}  // namespace

std::vector<SeenPoint> board_points(const BoardCorners& corners) {
  std::vector<SeenPoint> points;
  points.reserve(corners.px.size());
  for (std::size_t i = 0; i < corners.px.size(); ++i)
    points.push_back({corners.corner_mm(i), corners.px[i], i < corners.sigma_px.size() ? corners.sigma_px[i] : 1.0});
  return points;
}

Outcome<Rigid> plane_pose_from_rays(const Lens& lens, const std::vector<SeenPoint>& points) {
  if (points.size() < 4) return Failure{"fewer than four points"};
  Vector2d centre = Vector2d::Zero();
  for (const SeenPoint& p : points) centre += p.mm.head<2>();
  centre /= static_cast<double>(points.size());
  double spread = 0.0;
  for (const SeenPoint& p : points) spread += (p.mm.head<2>() - centre).squaredNorm();
  spread = std::sqrt(spread / static_cast<double>(points.size()));
  if (!(spread > 0.0)) return Failure{"all points lie in one place"};
  // ray x (H X) = 0 for each point, X in centred and scaled units
  Eigen::Matrix<double, 9, 9> normal = Eigen::Matrix<double, 9, 9>::Zero();
  std::vector<Vector3d> rays;
  for (const SeenPoint& p : points) {
    const std::optional<Vector3d> ray = unproject(lens, p.px);
    if (!ray) return Failure{"a point lies where the lens model does not reach"};
    rays.push_back(*ray);
    const Vector3d x((p.mm.x() - centre.x()) / spread, (p.mm.y() - centre.y()) / spread, 1.0);
    Eigen::Matrix<double, 3, 9> row;
    const Matrix3d cross = cross_matrix(*ray);
    for (Eigen::Index i = 0; i < 3; ++i) row.middleCols<3>(3 * i) = cross * x[i];
    normal.noalias() += row.transpose() * row;
  }
  const std::optional<SymmetricEigen> eigen = symmetric_eigen(normal);
  if (!eigen) return Failure{"the homography could not be solved"};
  // two vanishing values: more than one homography fits, as with points in a line
  if (!(eigen->values[1] > 1e-9 * eigen->values[8])) return Failure{"the points lie in a line"};
  Matrix3d h = Eigen::Map<const Matrix3d>(eigen->vectors.col(0).data());
  const double scale = 0.5 * (h.col(0).norm() + h.col(1).norm());
  if (!(scale > 0.0)) return Failure{"the homography could not be solved"};
  h /= scale;
  double in_front = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Vector2d x = (points[i].mm.head<2>() - centre) / spread;
    in_front += rays[i].dot(h * Vector3d(x.x(), x.y(), 1.0));
  }
  if (in_front < 0.0) h = -h;
  Matrix3d frame;
  frame << h.col(0), h.col(1), h.col(0).cross(h.col(1));
  Rigid pose;
  pose.rotation = nearest_orthogonal(frame);
  if (!(pose.rotation.determinant() > 0.0)) return Failure{"the points are seen from behind"};
  pose.translation = h.col(2) * spread - pose.rotation * Vector3d(centre.x(), centre.y(), 0.0);
  if (!pose.rotation.allFinite() || !pose.translation.allFinite()) return Failure{"the homography could not be solved"};
  return pose;
}

Outcome<ViewPose> refine_pose(const Lens& lens, const std::vector<SeenPoint>& points, const Rigid& start,
                              double cauchy_px, int max_iterations) {
  if (points.size() < 3) return Failure{"fewer than three points"};
  const auto linearise = [&](const Rigid& pose) -> std::optional<ArrowSystem> {
    ArrowSystem system(6, 0, 0);
    for (const SeenPoint& point : points) {
      const std::optional<Linear2x6> there = linearise_point(lens, pose, point, LensJacobian::no);
      if (!there) return std::nullopt;
      const double weight = 1.0 / (point.sigma_px * point.sigma_px);
      const RobustLoss loss = cauchy_loss(there->residual.squaredNorm(), cauchy_px);
      system.add_shared(there->residual, there->by_pose, weight * loss.weight);
      system.cost += weight * loss.cost;
    }
    return system;
  };
  const auto move = [](const Rigid& pose, const ArrowStep& step) {
    return Rigid{rotation_from_vector(step.shared.head<3>()) * pose.rotation, pose.translation + step.shared.tail<3>()};
  };
  ViewPose result;
  result.camera_from_body = start;
  LeastSquaresOptions options;
  options.max_iterations = max_iterations;
  options.smallest_cost = 1e-18;
  const LeastSquaresSummary summary = minimise(result.camera_from_body, linearise, move, options);
  if (summary.reason == StopReason::not_allowed) return Failure{"the points do not lie before the camera"};
  if (summary.reason == StopReason::stuck) return Failure{"no pose fits inside the lens model's reach"};
  result.camera_from_body.rotation =
      Eigen::Quaterniond(result.camera_from_body.rotation).normalized().toRotationMatrix();
  result.normal.setZero();
  result.by_lens_normal = Eigen::Matrix<double, 6, Eigen::Dynamic>::Zero(6, lens.parameters.size());
  const auto count = static_cast<Eigen::Index>(points.size());
  result.by_pose.resize(2 * count, 6);
  double sum = 0.0;
  double weighted = 0.0;
  for (Eigen::Index i = 0; i < count; ++i) {
    const SeenPoint& point = points[static_cast<std::size_t>(i)];
    const std::optional<Linear2x6> there = linearise_point(lens, result.camera_from_body, point, LensJacobian::yes);
    if (!there) return Failure{"the points do not lie before the camera"};
    result.by_pose.row(i) = there->by_pose.row(0);
    result.by_pose.row(count + i) = there->by_pose.row(1);
    const double squared = there->residual.squaredNorm();
    const double weight = cauchy_loss(squared, cauchy_px).weight / (point.sigma_px * point.sigma_px);
    result.normal.noalias() += weight * there->by_pose.transpose() * there->by_pose;
    result.by_lens_normal.noalias() += weight * there->by_pose.transpose() * there->by_lens;
    result.residuals_px.emplace_back(-there->residual);
    sum += squared;
    weighted += weight * squared;
  }
  const double n = static_cast<double>(points.size());
  result.rms_px = std::sqrt(sum / n);
  if (points.size() > 3) result.sigma0 = std::sqrt(weighted / (2.0 * n - 6.0));
  return result;
}

}  // namespace jigtrue
