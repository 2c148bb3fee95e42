#include "jigtrue/calibration/camera_drift.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/least_squares.hpp"
#include "jigtrue/calibration/view_pose.hpp"
#include "jigtrue/calibration/witness.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

using Matrix6d = Eigen::Matrix<double, 6, 6>;

// Near its place first, so that its neighbours cannot be mistaken for it; then as far as a hard knock carries it.
constexpr std::array<double, 3> kSearches_mm{3.0, 10.0, 30.0};

// Both tests together give one false alarm in a hundred photos: half a hundredth each. Chi-square's point for that with
// two and with four degrees of freedom; with two it is -2 ln p, which also serves the n marks that share it.
constexpr double kFalseAlarm = 0.005;
constexpr double kShiftLimit = 10.597;
constexpr double kMotionLimit = 14.860;
double one_mark_limit(std::size_t marks) { return -2.0 * std::log(kFalseAlarm / static_cast<double>(marks)); }

// A knock that goes unnoticed: common practice, no source.
constexpr double kUnnoticedTurn_rad = 0.001;
constexpr double kUnnoticedShift_mm = 0.5;

struct Motion {
  std::size_t index = 0;  // in record.witness
  Vector2d kept_px = Vector2d::Zero();
  Vector2d by_px = Vector2d::Zero();
  double variance = 0.0;  // px^2, one axis
  [[nodiscard]] bool off(double limit) const {
    return by_px.squaredNorm() > limit * variance && by_px.norm() > kHarmlessMotion_px;
  }
};

Vector2d mean_motion(const std::vector<Motion>& motions) {
  Vector2d sum = Vector2d::Zero();
  for (const Motion& m : motions) sum += m.by_px;
  return sum / static_cast<double>(std::max<std::size_t>(1, motions.size()));
}

// Marks that moved while the others stayed: at least two stayed, fewer moved than stayed, and what these did is not
// what the others' own small motion would make of them.
std::vector<Motion> leave_out_disturbed(const std::vector<Motion>& motions, std::vector<WitnessView>& marks) {
  const double limit = one_mark_limit(motions.size());
  std::vector<Motion> stayed;
  std::vector<Motion> moved;
  for (const Motion& m : motions) (m.off(limit) ? moved : stayed).push_back(m);
  if (moved.empty() || stayed.size() < 2 || moved.size() >= stayed.size()) return motions;
  const Vector2d common = mean_motion(stayed);
  for (const Motion& m : moved) {
    Motion alone = m;
    alone.by_px -= common;
    if (alone.off(limit)) {
      marks[m.index].disturbed = true;
    } else {
      stayed.push_back(m);
    }
  }
  return stayed;
}

struct CommonMotion {
  double chi_square = 0.0;
  double largest_px = 0.0;
  double limit = 0.0;
};

// Shift, turn and scale fitted to the marks' motions by weighted least squares; a shift alone for a single mark.
CommonMotion common_motion(const std::vector<Motion>& motions) {
  const Eigen::Index unknowns = motions.size() > 1 ? 4 : 2;
  Vector2d centre = Vector2d::Zero();
  for (const Motion& m : motions) centre += m.kept_px / static_cast<double>(motions.size());
  double reach = 1.0;
  for (const Motion& m : motions) reach = std::max(reach, (m.kept_px - centre).norm());
  const auto design = [&](const Motion& m) {
    const Vector2d arm = (m.kept_px - centre) / reach;
    Eigen::Matrix<double, 2, 4> rows;
    rows << 1.0, 0.0, -arm.y(), arm.x(), 0.0, 1.0, arm.x(), arm.y();
    return MatrixXd(rows.leftCols(unknowns));
  };
  MatrixXd normal = MatrixXd::Zero(unknowns, unknowns);
  VectorXd right = VectorXd::Zero(unknowns);
  for (const Motion& m : motions) {
    const MatrixXd rows = design(m);
    normal += rows.transpose() * rows / m.variance;
    right += rows.transpose() * m.by_px / m.variance;
  }
  const VectorXd fitted = solve_least_squares(normal, right);
  CommonMotion common;
  common.chi_square = fitted.dot(right);
  common.limit = unknowns == 4 ? kMotionLimit : kShiftLimit;
  for (const Motion& m : motions) common.largest_px = std::max(common.largest_px, (design(m) * fitted).norm());
  return common;
}

double on_bed_mm(const Camera& camera, const Vector2d& from_px, const Vector2d& to_px) {
  const auto from = bed_point_at(camera, from_px, 0.0);
  const auto to = bed_point_at(camera, to_px, 0.0);
  return from && to ? (from->mm - to->mm).norm() : 0.0;
}

Outcome<MarkPosition> look_for(const cv::Mat1b& luma, const Camera& camera, const WitnessMark& kept) {
  const auto there = bed_point_at(camera, kept.px, 0.0);
  if (!there) return Failure{"the camera file's own place for it cannot be seen"};
  Outcome<MarkPosition> found = Failure{"not looked for"};
  for (const double search_mm : kSearches_mm) {
    auto prediction = predict_mark(camera, {there->mm.x(), there->mm.y(), 0.0}, search_mm);
    if (!prediction) return Failure{"it lies outside the picture"};
    found = find_mark(luma, *prediction);
    if (found) break;
  }
  return found;
}

std::string nominal_name(const WitnessMark& mark) {
  char text[64];
  std::snprintf(text, sizeof text, "(%g, %g)", mark.nominal_mm.x(), mark.nominal_mm.y());
  return text;
}

std::vector<SeenPoint> trusted_points(const CameraRecord& record, const CameraDrift& drift) {
  std::vector<SeenPoint> points;
  for (const WitnessView& view : drift.marks) {
    const auto bed = bed_point_at(record.camera, view.kept.px, 0.0);
    if (!view.found || view.disturbed || !bed) continue;
    points.push_back(
        {{bed->mm.x(), bed->mm.y(), 0.0}, view.found->px, std::hypot(view.kept.sigma_px, view.found->sigma_px)});
  }
  return points;
}

}  // namespace

CameraDrift judge_drift(const CameraRecord& record, const std::vector<Outcome<MarkPosition>>& found) {
  CameraDrift drift;
  std::vector<Motion> motions;
  for (std::size_t i = 0; i < record.witness.size(); ++i) {
    const WitnessMark& kept = record.witness[i];
    drift.marks.push_back({kept, found[i], false});
    if (!found[i]) continue;
    const double variance = kept.sigma_px * kept.sigma_px + found[i]->sigma_px * found[i]->sigma_px;
    motions.push_back({i, kept.px, found[i]->px - kept.px, variance});
  }
  if (record.witness.empty()) return drift;
  motions = leave_out_disturbed(motions, drift.marks);
  drift.seen = static_cast<int>(motions.size());
  if (motions.empty()) {
    drift.stand = CameraStand::hidden;
    return drift;
  }
  for (const Motion& m : motions) {
    drift.largest_px = std::max(drift.largest_px, m.by_px.norm());
    drift.largest_mm = std::max(drift.largest_mm, on_bed_mm(record.camera, m.kept_px, m.kept_px + m.by_px));
  }
  const CommonMotion common = common_motion(motions);
  const double limit = one_mark_limit(motions.size());
  const bool one_off = std::any_of(motions.begin(), motions.end(), [&](const Motion& m) { return m.off(limit); });
  const bool all_off = common.chi_square > common.limit && common.largest_px > kHarmlessMotion_px;
  drift.stand = one_off || all_off ? CameraStand::moved : CameraStand::agrees;
  return drift;
}

CameraDrift watch_camera(const cv::Mat1b& luma, const CameraRecord& record) {
  std::vector<Outcome<MarkPosition>> found;
  for (const WitnessMark& kept : record.witness) found.push_back(look_for(luma, record.camera, kept));
  return judge_drift(record, found);
}

Eigen::Matrix<double, 6, 6> unnoticed_motion(const CameraRecord& record, const CameraDrift& drift) {
  Matrix6d known = Matrix6d::Zero();
  for (int i = 0; i < 3; ++i) {
    known(i, i) = 1.0 / (kUnnoticedTurn_rad * kUnnoticedTurn_rad);
    known(i + 3, i + 3) = 1.0 / (kUnnoticedShift_mm * kUnnoticedShift_mm);
  }
  // A turn of the camera about its own centre moves the bed's picture, and so is tied to the bed, not to the camera.
  for (const SeenPoint& point : trusted_points(record, drift)) {
    const auto projection = project_bed_point_with_jacobian(record.camera, point.mm);
    if (!projection) continue;
    const Eigen::Matrix<double, 2, 6> by_pose = projection->by_camera.rightCols(6);
    known += by_pose.transpose() * by_pose / (point.sigma_px * point.sigma_px);
  }
  const auto covariance = inverse_spd(known);
  return covariance ? Matrix6d(*covariance) : Matrix6d(Matrix6d::Zero());
}

Outcome<Repose> repose(const CameraRecord& record, const CameraDrift& drift) {
  const std::vector<SeenPoint> points = trusted_points(record, drift);
  if (points.size() < 3)
    return Failure{"only " + std::to_string(points.size()) + " of " + std::to_string(drift.marks.size()) +
                   " witness marks are seen, at least 3 are needed to place the camera anew"};
  const Outcome<ViewPose> pose = refine_pose(record.camera.lens, points, record.camera.camera_from_bed);
  if (!pose) return Failure{"no place of the camera fits the witness marks: " + pose.reason()};
  double expected = 0.0;
  for (const SeenPoint& p : points) expected += 2.0 * p.sigma_px * p.sigma_px / static_cast<double>(points.size());
  if (pose->rms_px > std::max(kHarmlessMotion_px, 3.0 * std::sqrt(expected)))
    return Failure{"the witness marks contradict each other: some of them have moved too"};
  const std::optional<MatrixXd> inverse = inverse_spd(pose->normal);
  if (!inverse) return Failure{"the witness marks seen do not determine the camera's place"};
  Repose result;
  result.camera = record.camera;
  result.camera.camera_from_bed = pose->camera_from_body;
  if (!(result.camera.centre_mm().z() > 0.0)) return Failure{"the camera would stand below the bed"};
  const double scale = std::max(1.0, pose->sigma0);
  // The marks' bed places carry the old pose's errors, so the new pose has the same ones, and the marks' noise on top.
  // How the parameters answer differs between the two poses only by the move itself, which is small.
  result.camera.covariance.bottomRightCorner<6, 6>() += scale * scale * (*inverse);
  result.marks = static_cast<int>(points.size());
  result.rms_px = pose->rms_px;
  return result;
}

std::string drift_reason(const CameraRecord& record, const CameraDrift& drift) {
  const std::string since = record.created.empty() ? "its pose was taken" : record.created.substr(0, 10);
  if (drift.stand == CameraStand::hidden) {
    const std::string marks = drift.marks.size() == 1
                                  ? "the witness mark is not"
                                  : "none of the " + std::to_string(drift.marks.size()) + " witness marks is";
    return marks + " where it was: the camera has moved since " + since +
           ", or they are covered or blurred: clear their view and take the photo anew, or run pose again";
  }
  if (drift.stand != CameraStand::moved) return {};
  char text[160];
  std::snprintf(text, sizeof text, "the camera has moved by %.1f px (about %.*f mm on the bed) since ",
                drift.largest_px, drift.largest_mm < 1.0 ? 2 : 1, drift.largest_mm);
  return text + since + ": run pose again";
}

std::vector<std::string> drift_notes(const CameraDrift& drift) {
  std::vector<std::string> notes;
  for (const WitnessView& view : drift.marks) {
    if (view.disturbed)
      notes.push_back("The witness mark at " + nominal_name(view.kept) +
                      " is not where it was while the others are: it was disturbed. Take the pose anew soon.");
    if (!view.found && drift.stand != CameraStand::hidden)
      notes.push_back("The witness mark at " + nominal_name(view.kept) + " was not seen (" + view.found.reason() +
                      ").");
  }
  if (drift.stand == CameraStand::agrees && drift.seen < 3 && drift.marks.size() > 2)
    notes.push_back("Only " + std::to_string(drift.seen) + " of " + std::to_string(drift.marks.size()) +
                    " witness marks could be checked: a turn of the camera might not show; the uncertainties say so.");
  return notes;
}

}  // namespace jigtrue
