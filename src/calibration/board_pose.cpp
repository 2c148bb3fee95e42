#include "calibration/board_pose.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "calibration/flat_boards.hpp"
#include "calibration/format.hpp"

namespace jigtrue {

namespace {

// A pose through the right lens leaves about what the lens fit left (a little less: fewer photos). Three times that, or
// more than 0.3 px where the lens fit was very good, is another lens, a zoomed picture or a bent board.
constexpr double kLargestRmsFactor = 3.0;
constexpr double kHarmlessRms_px = 0.3;
// Two poses fit a board alike when the worse one's sum of squares is less than this many times the better one's: 95 %
// point of F(102, 102), of 54 corners, is 1.39.
constexpr double kAmbiguousBoard = 1.4;
// A photo counts as mirrored when that is e^12 = 160 000 times as likely.
constexpr double kMirrorLogOdds = 12.0;

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

double cost_of(const ViewPose& pose, const std::vector<SeenPoint>& points) {
  double cost = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    cost += pose.residuals_px[i].squaredNorm() / (points[i].sigma_px * points[i].sigma_px);
  }
  return cost;
}

}  // namespace

std::string size_mismatch(const LensRecord& lens, int width_px, int height_px) {
  if (lens.lens.width_px == width_px && lens.lens.height_px == height_px) return {};
  return format("the photo has %d x %d px, the lens was calibrated for %d x %d px", width_px, height_px,
                lens.lens.width_px, lens.lens.height_px);
}

Outcome<BestPose> best_pose(const Lens& lens, const std::vector<SeenPoint>& points, double least_cost) {
  Vector3d centre = Vector3d::Zero();
  for (const SeenPoint& p : points) centre += p.mm / static_cast<double>(points.size());
  std::vector<SeenPoint> flat = points;
  for (SeenPoint& p : flat) p.mm.z() = 0.0;
  const Outcome<Rigid> first = plane_pose_from_rays(lens, flat);
  if (!first) return first.failure();
  Rigid start = *first;
  start.translation -= start.rotation.col(2) * centre.z();  // the plane lay at the points' mean height
  const Outcome<ViewPose> one = refine_pose(lens, points, start);
  const Outcome<ViewPose> two = refine_pose(lens, points, mirrored_tilt(one ? one->camera_from_body : start, centre));
  if (!one && !two) return one.failure();
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

std::string residual_refusal(double rms_px, double expected_px, const LensRecord& lens) {
  const double limit = std::max(kLargestRmsFactor * std::max(lens.rms_px, expected_px), kHarmlessRms_px);
  if (rms_px <= limit) return {};
  return format(
      "the points lie %.2f px (rms) from where this lens puts them, the lens's own photos %.2f px: another lens, "
      "zoom or crop, a bent board, or points given at wrong places",
      rms_px, lens.rms_px);
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

// Sum of squares in units of what corners and lens are known to err, alone and together, the pose following; their
// expectation is two for each corner less six.
double likely_cost(const LensRecord& lens, const std::vector<SeenPoint>& points, const ViewPose& pose) {
  const Outcome<FlatView> there = flat_view(lens.lens, pose.camera_from_body, {}, {points, {}});
  if (!there) return std::numeric_limits<double>::infinity();
  const FittedView& view = there->view;
  const double alone = std::max(lens.noise_px, kLeastNoise_px);
  const double together = std::hypot(lens.together_px, lens.model_error_px / std::sqrt(2.0));
  const MatrixXd kin = correlation(view.mm, view.mm, reach_mm(view.mm));
  MatrixXd errors = propagated(there->by_lens, lens.covariance);
  errors.diagonal().array() += alone * alone;
  errors.topLeftCorner(kin.rows(), kin.rows()) += together * together * kin;
  errors.bottomRightCorner(kin.rows(), kin.rows()) += together * together * kin;
  const std::optional<MatrixXd> root = cholesky_factor(errors);
  if (!root) return std::numeric_limits<double>::infinity();
  const MatrixXd residual = solve_lower(*root, view.residual_px);
  const MatrixXd basis = orthonormal_basis(solve_lower(*root, view.by_shared));
  return (residual - times(basis, transpose_times(basis, residual))).squaredNorm();
}

// A mirrored photo of a board looks like one that is not, but no lens is quite like its own mirror image. The two are
// weighed by their likelihoods (Neyman & Pearson); residuals larger than the lens's errors let expect weigh less.
std::string mirror_refusal(const LensRecord& lens, const std::vector<SeenPoint>& points, const BoardSpec& board,
                           const ViewPose& pose, double least_cost) {
  if (static_cast<int>(points.size()) != board.corner_count()) return {};
  const std::vector<SeenPoint> turned_back = mirrored(points, board, lens.lens.width_px);
  const Outcome<BestPose> other = best_pose(lens.lens, turned_back, least_cost);
  if (!other || !residual_refusal(other->best.rms_px, 0.0, lens).empty()) return {};
  const double as_it_is = likely_cost(lens, points, pose);
  const double in_mirror = likely_cost(lens, turned_back, other->best);
  const double scale = std::max(1.0, in_mirror / (2.0 * static_cast<double>(points.size()) - 6.0));
  if (!(as_it_is - in_mirror > 2.0 * kMirrorLogOdds * scale)) return {};
  return format(
      "the photo seems to be mirrored: turned back, its board fits this lens to %.3f px, as it is to %.3f px only; "
      "switch mirroring off in the camera's settings",
      other->best.rms_px, pose.rms_px);
}

}  // namespace

Outcome<ViewPose> board_pose(const LensRecord& lens, const std::vector<SeenPoint>& seen, const BoardSpec& board,
                             int width_px, int height_px) {
  if (const std::string reason = size_mismatch(lens, width_px, height_px); !reason.empty()) return Failure{reason};
  std::vector<SeenPoint> points = seen;
  for (SeenPoint& p : points) p.sigma_px = 1.0;  // equal weights: what limits is not the corners' noise
  const double n = static_cast<double>(points.size());
  const double least_cost = (2.0 * n - 6.0) * 0.01 * 0.01;
  const Outcome<BestPose> found = best_pose(lens.lens, points, least_cost);
  if (!found) return Failure{"no pose fits the board's corners: " + found.reason()};
  const ViewPose& pose = found->best;
  if (const std::string reason = mirror_refusal(lens, points, board, pose, least_cost); !reason.empty()) {
    return Failure{reason};
  }
  if (const std::string reason = residual_refusal(pose.rms_px, 0.0, lens); !reason.empty()) return Failure{reason};
  if (found->second_cost_ratio > 0.0 && found->second_cost_ratio < kAmbiguousBoard) {
    return Failure{"two poses fit the board alike: it is too small in the picture"};
  }
  if (!((pose.camera_from_body.inverse().translation).z() > 0.0)) {
    return Failure{"the board is seen from behind: the photo is mirrored"};
  }
  return pose;
}

}  // namespace jigtrue
