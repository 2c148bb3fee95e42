#include "jigtrue/calibration/pose_fit.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/least_squares.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "calibration/corner_noise.hpp"

namespace jigtrue {

namespace {

// A pose through the right lens leaves about what the lens fit left (a little less: fewer photos). Three times that, or
// more than 0.3 px where the lens fit was very good, is another lens, a zoomed picture or a bent board.
constexpr double kLargestRmsFactor = 3.0;
constexpr double kHarmlessRms_px = 0.3;
constexpr std::size_t kFewestMarks = 4;
// Nearly in a line: the marks' spread across their main direction, relative to along it.
constexpr double kThinnest = 0.02;
// Two poses fit alike when the worse one's sum of squares is less than this many times the better one's, the latter
// taken as no smaller than the marks' own sigmas allow. 95 % point of F(2, 2), the smallest case: four marks, 8 - 6
// = 2.
constexpr double kAmbiguousRatio = 19.0;
// The same for a board of 54 corners: 95 % point of F(102, 102) is 1.39.
constexpr double kAmbiguousBoard = 1.4;

using Joint = Eigen::Matrix<double, 6, Eigen::Dynamic>;

template <class... Numbers>
std::string format(const char* pattern, Numbers... numbers) {
  char text[300];
  std::snprintf(text, sizeof text, pattern, numbers...);
  return text;
}

std::string size_mismatch(const LensRecord& lens, int width_px, int height_px) {
  if (lens.lens.width_px == width_px && lens.lens.height_px == height_px) return {};
  return format("the photo has %d x %d px, the lens was calibrated for %d x %d px", width_px, height_px,
                lens.lens.width_px, lens.lens.height_px);
}

// The other pose that a flat target has nearly alike from afar: its normal mirrored about the line of sight
// (Schweighofer & Pinz, PAMI 28(12) 2006).
Rigid mirrored_tilt(const Rigid& pose, const Vector3d& centre_body) {
  const Vector3d centre = pose * centre_body;
  const Vector3d sight = centre.normalized();
  const Vector3d normal = pose.rotation.col(2);
  const Vector3d mirrored = 2.0 * normal.dot(sight) * sight - normal;
  const Matrix3d turn = shortest_turn(normal, mirrored);
  Rigid other;
  other.rotation = turn * pose.rotation;
  other.translation = centre - other.rotation * centre_body;
  return other;
}

struct BestPose {
  ViewPose best;
  double second_cost_ratio = 0.0;  // cost of the other tilt's pose over the best one's; 0 when there is no other
};
double cost_of(const ViewPose& pose, const std::vector<SeenPoint>& points) {
  double cost = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    cost += pose.residuals_px[i].squaredNorm() / (points[i].sigma_px * points[i].sigma_px);
  }
  return cost;
}

// points: any body with a nearly flat set of points. least_cost: what noise alone would leave, in units of sigma.
Outcome<BestPose> best_pose(const Lens& lens, const std::vector<SeenPoint>& points, double least_cost) {
  Vector3d centre = Vector3d::Zero();
  for (const SeenPoint& p : points) centre += p.mm / static_cast<double>(points.size());
  std::vector<SeenPoint> flat = points;
  for (SeenPoint& p : flat) p.mm.z() = 0.0;
  const Outcome<Rigid> first = plane_pose_from_rays(lens, flat);
  if (!first) return Failure{first.reason()};
  Rigid start = *first;
  start.translation -= start.rotation.col(2) * centre.z();  // the plane lay at the points' mean height
  const Outcome<ViewPose> one = refine_pose(lens, points, start);
  const Outcome<ViewPose> two = refine_pose(lens, points, mirrored_tilt(one ? one->camera_from_body : start, centre));
  if (!one && !two) return Failure{one.reason()};
  if (!one) return BestPose{*two, 0.0};
  BestPose result{*one, 0.0};
  if (!two) return result;
  const bool same = (one->camera_from_body.rotation - two->camera_from_body.rotation).norm() < 1e-4;
  if (same) return result;
  const double cost_one = cost_of(*one, points);
  const double cost_two = cost_of(*two, points);
  if (cost_two < cost_one) result.best = *two;
  result.second_cost_ratio = std::max(cost_one, cost_two) / std::max(std::min(cost_one, cost_two), least_cost);
  return result;
}

// Joint covariance of [lens, pose] of a body's pose: what the errors of its own points leave open (by_points), and the
// lens's covariance carried over.
MatrixXd joint_covariance(const LensRecord& lens, const ViewPose& pose, const MatrixXd& inverse,
                          const Eigen::Matrix<double, 6, 6>& by_points) {
  const Eigen::Index n = lens.lens.parameters.size();
  const Joint by_lens = -inverse * pose.by_lens_normal;
  MatrixXd joint(n + 6, n + 6);
  joint.topLeftCorner(n, n) = lens.covariance;
  joint.bottomLeftCorner(6, n) = by_lens * lens.covariance;
  joint.topRightCorner(n, 6) = joint.bottomLeftCorner(6, n).transpose();
  joint.bottomRightCorner(6, 6) = by_points + by_lens * lens.covariance * by_lens.transpose();
  return joint;
}

// A board's corners err partly together, as those of the lens's photos did.
Eigen::Matrix<double, 6, 6> by_corners(const std::vector<SeenPoint>& points, const ViewPose& pose,
                                       const LensRecord& lens) {
  const auto count = static_cast<Eigen::Index>(points.size());
  FittedView view{{}, pose.by_pose, {}, VectorXd(2 * count)};
  for (Eigen::Index i = 0; i < count; ++i) {
    view.mm.emplace_back(points[static_cast<std::size_t>(i)].mm.head<2>());
    const Vector2d& residual = pose.residuals_px[static_cast<std::size_t>(i)];
    view.residual_px[i] = residual.x();
    view.residual_px[count + i] = residual.y();
  }
  return pose_covariance(view, {lens.noise_px, lens.together_px});
}

// The pose's parameters move with the frame: from camera_from_body to camera_from_bed = camera_from_body *
// body_from_bed. The rotation vector on the left is the same; the translation gains the rotated shift.
void carry_to_bed(MatrixXd& joint, const Rigid& camera_from_body, const Rigid& body_from_bed) {
  const Eigen::Index n = joint.rows() - 6;
  MatrixXd change = MatrixXd::Identity(n + 6, n + 6);
  change.block<3, 3>(n + 3, n) = -cross_matrix(camera_from_body.rotation * body_from_bed.translation);
  joint = (change * joint * change.transpose()).eval();
}

// What the placement's own uncertainty does to the pose: columns x, y, angle, height, scale, each times its sigma.
Eigen::Matrix<double, 6, 5> placement_shares(const Rigid& camera_from_bed, const Rigid& camera_from_board,
                                             const BoardPlacement& placement) {
  const Matrix3d& r = camera_from_bed.rotation;
  const Vector3d origin(placement.x_mm, placement.y_mm, placement.height_mm);
  Eigen::Matrix<double, 6, 5> shares = Eigen::Matrix<double, 6, 5>::Zero();
  shares.block<3, 1>(3, 0) = -r.col(0) * placement.xy_sigma_mm;
  shares.block<3, 1>(3, 1) = -r.col(1) * placement.xy_sigma_mm;
  // the board turned by +d turns the bed by -d about the board's origin as the camera sees it
  const double angle = rad_from_deg(placement.angle_sigma_deg);
  shares.block<3, 1>(0, 2) = -r.col(2) * angle;
  shares.block<3, 1>(3, 2) = r * Vector3d::UnitZ().cross(origin) * angle;
  shares.block<3, 1>(3, 3) = -r.col(2) * placement.height_sigma_mm;
  shares.block<3, 1>(3, 4) = camera_from_board.translation * placement.scale_sigma;
  return shares;
}

// expected_px: what the points' own uncertainty explains, rms of the distance.
std::string residual_refusal(double rms_px, double expected_px, const LensRecord& lens) {
  const double limit = std::max(kLargestRmsFactor * std::max(lens.rms_px, expected_px), kHarmlessRms_px);
  if (rms_px <= limit) return {};
  return format(
      "the points lie %.2f px (rms) from where this lens puts them, the lens's own photos %.2f px: another lens, "
      "zoom or crop, a bent board, or points given at wrong places",
      rms_px, lens.rms_px);
}

void finish_covariance(Camera& camera) {
  camera.covariance = 0.5 * (camera.covariance + camera.covariance.transpose()).eval();
}

}  // namespace

Rigid bed_from_board(const BoardPlacement& placement) {
  return {rotation_from_vector({0.0, 0.0, rad_from_deg(placement.angle_deg)}),
          {placement.x_mm, placement.y_mm, placement.height_mm}};
}

namespace {

// The corners as a photo taken in a mirror would have them. A board is its own mirror image along its odd count.
std::vector<SeenPoint> mirrored(const std::vector<SeenPoint>& points, const BoardSpec& board, int width_px) {
  const auto columns = static_cast<std::size_t>(board.inner_columns());
  const auto rows = static_cast<std::size_t>(board.inner_rows());
  std::vector<SeenPoint> other = points;
  for (std::size_t row = 0; row < rows; ++row)
    for (std::size_t column = 0; column < columns; ++column) {
      const std::size_t from =
          board.columns % 2 != 0 ? row * columns + (columns - 1 - column) : (rows - 1 - row) * columns + column;
      other[row * columns + column].px = {width_px - 1.0 - points[from].px.x(), points[from].px.y()};
    }
  return other;
}

// A mirrored photo of a board looks like one that is not, but no lens is quite like its own mirror image.
std::string mirror_refusal(const LensRecord& lens, const std::vector<SeenPoint>& points, const BoardSpec& board,
                           const ViewPose& pose, double least_cost) {
  const std::vector<SeenPoint> turned_back = mirrored(points, board, lens.lens.width_px);
  const Outcome<BestPose> other = best_pose(lens.lens, turned_back, least_cost);
  if (!other || !residual_refusal(other->best.rms_px, 0.0, lens).empty()) return {};
  const double best_cost = std::max(cost_of(other->best, turned_back), least_cost);
  if (!(cost_of(pose, points) > kAmbiguousBoard * best_cost)) return {};
  return format(
      "the photo seems to be mirrored: turned back, its board fits this lens to %.3f px, as it is to %.3f px only; "
      "switch mirroring off in the camera's settings",
      other->best.rms_px, pose.rms_px);
}

}  // namespace

Outcome<PoseFit> fit_pose_to_board(const LensRecord& lens, const BoardCorners& corners, int width_px, int height_px,
                                   const BoardPlacement& placement) {
  if (const std::string reason = size_mismatch(lens, width_px, height_px); !reason.empty()) return Failure{reason};
  std::vector<SeenPoint> points = board_points(corners);
  for (SeenPoint& p : points) p.sigma_px = 1.0;  // equal weights: what limits is not the corners' noise
  const double n = static_cast<double>(points.size());
  const double least_cost = (2.0 * n - 6.0) * 0.01 * 0.01;
  const Outcome<BestPose> found = best_pose(lens.lens, points, least_cost);
  if (!found) return Failure{"no pose fits the board's corners: " + found.reason()};
  const ViewPose& pose = found->best;
  if (const std::string reason = mirror_refusal(lens, points, corners.board, pose, least_cost); !reason.empty()) {
    return Failure{reason};
  }
  if (const std::string reason = residual_refusal(pose.rms_px, 0.0, lens); !reason.empty()) return Failure{reason};
  if (found->second_cost_ratio > 0.0 && found->second_cost_ratio < kAmbiguousBoard) {
    return Failure{"two poses fit the board alike: it is too small in the picture"};
  }
  const std::optional<MatrixXd> inverse = inverse_spd(pose.normal);
  if (!inverse) return Failure{"the board's corners do not determine the pose"};

  const Rigid& camera_from_board = pose.camera_from_body;
  const Rigid from_board = bed_from_board(placement);
  PoseFit result;
  result.camera.lens = lens.lens;
  result.camera.camera_from_bed = camera_from_board * from_board.inverse();
  if (!((camera_from_board.inverse().translation).z() > 0.0)) {
    return Failure{"the board is seen from behind: the photo is mirrored"};
  }
  if (!(result.camera.centre_mm().z() > 0.0))
    return Failure{"the camera would stand below the bed: check --board-height"};
  result.rms_px = pose.rms_px;
  result.sigma0_px = pose.sigma0;
  result.residuals_px = pose.residuals_px;
  for (const SeenPoint& p : points) {
    result.points_mm.emplace_back(from_board * p.mm);
    result.px.push_back(p.px);
  }
  MatrixXd joint = joint_covariance(lens, pose, *inverse, by_corners(points, pose, lens));
  carry_to_bed(joint, camera_from_board, from_board.inverse());
  const Eigen::Matrix<double, 6, 5> shares =
      placement_shares(result.camera.camera_from_bed, camera_from_board, placement);
  joint.bottomRightCorner<6, 6>() += shares * shares.transpose();
  result.camera.covariance = joint;
  finish_covariance(result.camera);
  return result;
}

Outcome<PoseFit> fit_pose_to_marks(const LensRecord& lens, const std::vector<PlacedMark>& marks, int width_px,
                                   int height_px, const MarkPlacement& placement) {
  if (const std::string reason = size_mismatch(lens, width_px, height_px); !reason.empty()) return Failure{reason};
  if (marks.size() < kFewestMarks) {
    return Failure{format("%zu marks were found, at least %zu are needed", marks.size(), kFewestMarks)};
  }
  Vector2d centre = Vector2d::Zero();
  for (const PlacedMark& m : marks) centre += m.bed_mm.head<2>() / static_cast<double>(marks.size());
  Matrix2d spread = Matrix2d::Zero();
  for (const PlacedMark& m : marks) {
    const Vector2d d = m.bed_mm.head<2>() - centre;
    spread += d * d.transpose();
  }
  const Vector2d axes = symmetric_eigenvalues(spread);
  if (!(axes[0] > kThinnest * kThinnest * axes[1])) {
    return Failure{"the marks lie in a line: they leave the camera's tilt open"};
  }
  // the mark's own place is uncertain too: as seen in the picture, by its local scale
  std::vector<SeenPoint> points;
  points.reserve(marks.size());
  for (const PlacedMark& m : marks) points.push_back({m.bed_mm, m.px, m.sigma_px});
  Outcome<BestPose> found = best_pose(lens.lens, points, 2.0 * static_cast<double>(marks.size()) - 6.0);
  if (!found) return Failure{"no pose fits the marks: " + found.reason()};
  if (placement.sigma_mm > 0.0) {
    for (SeenPoint& p : points) {
      const double distance = (found->best.camera_from_body * p.mm).norm();
      const double px_per_mm = lens.lens.focal_px().mean() / distance;
      p.sigma_px = std::hypot(p.sigma_px, placement.sigma_mm * px_per_mm);
    }
    found = best_pose(lens.lens, points, 2.0 * static_cast<double>(marks.size()) - 6.0);
    if (!found) return Failure{"no pose fits the marks: " + found.reason()};
  }
  const ViewPose& pose = found->best;
  PoseFit result;
  result.camera.lens = lens.lens;
  result.camera.camera_from_bed = pose.camera_from_body;
  if (!(result.camera.centre_mm().z() > 0.0))
    return Failure{"the camera would stand below the bed: are marks exchanged?"};
  double expected = 0.0;
  for (const SeenPoint& p : points) expected += 2.0 * p.sigma_px * p.sigma_px / static_cast<double>(points.size());
  if (const std::string reason = residual_refusal(pose.rms_px, std::sqrt(expected), lens); !reason.empty()) {
    return Failure{reason};
  }
  if (found->second_cost_ratio > 0.0 && found->second_cost_ratio < kAmbiguousRatio) {
    return Failure{"two poses fit the marks alike: more marks, farther apart, are needed"};
  }
  const std::optional<MatrixXd> inverse = inverse_spd(pose.normal);
  if (!inverse) return Failure{"the marks do not determine the pose"};
  result.rms_px = pose.rms_px;
  result.sigma0_px = pose.sigma0;
  result.residuals_px = pose.residuals_px;
  for (const SeenPoint& p : points) {
    result.points_mm.push_back(p.mm);
    result.px.push_back(p.px);
  }
  // few marks: their scatter says little, so the stated sigmas are the least that is believed
  const double sigma0 = std::max(1.0, pose.sigma0);
  result.camera.covariance = joint_covariance(lens, pose, *inverse, sigma0 * sigma0 * *inverse);
  finish_covariance(result.camera);
  return result;
}

}  // namespace jigtrue
