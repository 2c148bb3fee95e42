#include "jigtrue/calibration/pose_fit.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/least_squares.hpp"
#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/board_pose.hpp"
#include "calibration/flat_boards.hpp"
#include "calibration/flat_boards_check.hpp"
#include "calibration/format.hpp"
#include "calibration/plane_sigma.hpp"
#include "calibration/seen_boards.hpp"

namespace jigtrue {

namespace {

constexpr std::size_t kFewestMarks = 4;  // eight numbers for six unknowns
// Nearly in a line: the marks' spread across their main direction, relative to along it.
constexpr double kThinnest = 0.02;
// Two poses fit alike when the worse one's sum of squares is less than this many times the better one's, the latter
// taken as no smaller than the marks' own sigmas allow. 95 % point of F(2, 2), the smallest case: four marks, 8 - 6
// = 2.
constexpr double kAmbiguousRatio = 19.0;

// Joint covariance of [lens, pose] of a body's pose: what the errors of its own points leave open (by_points), and the
// lens's covariance carried over.
MatrixXd lens_and_pose_covariance(const LensRecord& lens, const ViewPose& pose, const MatrixXd& inverse,
                                  const Eigen::Matrix<double, 6, 6>& by_points) {
  const Eigen::Index n = lens.lens.parameters.size();
  const MatrixXd by_lens = -times(inverse, pose.by_lens_normal);
  MatrixXd joint(n + 6, n + 6);
  joint.topLeftCorner(n, n) = lens.covariance;
  joint.bottomLeftCorner(6, n) = times(by_lens, lens.covariance);
  joint.topRightCorner(n, 6) = joint.bottomLeftCorner(6, n).transpose();
  joint.bottomRightCorner(6, 6) = by_points + propagated(by_lens, lens.covariance);
  return joint;
}

// The pose's parameters move with the frame: from camera_from_body to camera_from_bed = camera_from_body *
// body_from_bed. The rotation vector on the left is the same; the translation gains the rotated shift.
void carry_to_bed(MatrixXd& joint, const Rigid& camera_from_body, const Rigid& body_from_bed) {
  const Eigen::Index n = joint.rows() - 6;
  MatrixXd change = MatrixXd::Identity(n + 6, n + 6);
  change.block<3, 3>(n + 3, n) = -cross_matrix(camera_from_body.rotation * body_from_bed.translation);
  joint = propagated(change, joint);
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

void finish_covariance(Camera& camera) {
  camera.covariance = 0.5 * (camera.covariance + camera.covariance.transpose()).eval();
}

}  // namespace

Rigid bed_from_board(const BoardPlacement& placement) {
  return {rotation_from_vector({0.0, 0.0, rad_from_deg(placement.angle_deg)}),
          {placement.x_mm, placement.y_mm, placement.height_mm}};
}

namespace {

void add_placement(MatrixXd& joint, const Rigid& camera_from_bed, const Rigid& camera_from_board,
                   const BoardPlacement& placement) {
  const Eigen::Matrix<double, 6, 5> shares = placement_shares(camera_from_bed, camera_from_board, placement);
  joint.bottomRightCorner<6, 6>() += shares * shares.transpose();
}

FoundBoard found_board(const FlatBoardPhoto& photo, const BoardPlacement& first, const BoardPlace& place,
                       const std::vector<Vector2d>& residuals_px) {
  const Rigid from_board = bed_from_board(first) * first_from_board(place);
  double angle_deg = first.angle_deg + deg_from_rad(place.turn_rad);
  angle_deg -= 360.0 * std::round(angle_deg / 360.0);
  double squares = 0.0;
  for (const Vector2d& r : residuals_px) squares += r.squaredNorm() / static_cast<double>(residuals_px.size());
  return {photo.file, from_board.translation.x(), from_board.translation.y(),
          angle_deg,  std::sqrt(squares),         photo.corners};
}

}  // namespace

Outcome<PoseFit> fit_pose_to_boards(const LensRecord& lens, const std::vector<FlatBoardPhoto>& photos,
                                    const BoardPlacement& placement) {
  if (photos.empty()) return Failure{"no photo of the board is given"};
  std::vector<std::string> files;
  files.reserve(photos.size());
  for (const FlatBoardPhoto& photo : photos) files.push_back(photo.file);
  const Outcome<SeenBoards> seen = seen_boards(lens, photos);
  if (!seen) return seen.failure();
  const std::vector<BoardPoints>& boards = seen->boards;
  const std::vector<ViewPose>& alone = seen->alone;
  if (const std::string reason = contradiction(lens, files, boards, alone); !reason.empty()) return Failure{reason};
  const std::string first_file = files.front().empty() ? std::string() : files.front() + ": ";
  const Outcome<FlatBoards> flat = fit_flat_boards(lens, boards, alone);
  if (!flat) return Failure{first_file + flat.reason()};

  const Rigid& camera_from_board = flat->camera_from_board;
  const Rigid from_board = bed_from_board(placement);
  PoseFit result;
  result.camera.lens = lens.lens;
  result.camera.camera_from_bed = camera_from_board * from_board.inverse();
  if (!(result.camera.centre_mm().z() > 0.0))
    return Failure{first_file + "the camera would stand below the bed: check --board-height"};
  result.places = photos.front().corners.places;
  result.rms_px = flat->rms_px;
  result.sigma0_px = flat->sigma0_px;
  for (std::size_t i = 0; i < boards.size(); ++i) {
    const Rigid bed_from_this = from_board * first_from_board(flat->places[i]);
    for (const SeenPoint& p : boards[i].seen) {
      result.points_mm.emplace_back(bed_from_this * p.mm);
      result.px.push_back(p.px);
    }
    const std::vector<Vector2d>& residuals = flat->residuals_px[i];
    result.residuals_px.insert(result.residuals_px.end(), residuals.begin(), residuals.end());
    if (i > 0) result.further.push_back(found_board(photos[i], placement, flat->places[i], residuals));
  }
  if (!seen->note.empty()) result.notes.push_back(seen->note);
  MatrixXd joint = flat->covariance;
  carry_to_bed(joint, camera_from_board, from_board.inverse());
  if (boards.size() > 1) {
    const Outcome<FlatBoards> first = fit_flat_boards(lens, {boards.front()}, {alone.front()});
    MatrixXd by_first = first ? first->covariance : joint;
    carry_to_bed(by_first, camera_from_board, from_board.inverse());
    result.notes.push_back(gain_note("the first alone", result.further.size(),
                                     plane_sigma(by_first, result.camera.camera_from_bed),
                                     plane_sigma(joint, result.camera.camera_from_bed)));
  }
  add_placement(joint, result.camera.camera_from_bed, camera_from_board, placement);
  result.camera.covariance = joint;
  finish_covariance(result.camera);
  return result;
}

Outcome<PoseFit> fit_pose_to_board(const LensRecord& lens, const BoardCorners& corners, int width_px, int height_px,
                                   const BoardPlacement& placement) {
  return fit_pose_to_boards(lens, {{"", width_px, height_px, corners}}, placement);
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
  result.camera.covariance = lens_and_pose_covariance(lens, pose, *inverse, sigma0 * sigma0 * *inverse);
  finish_covariance(result.camera);
  return result;
}

}  // namespace jigtrue
