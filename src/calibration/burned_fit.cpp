#include "jigtrue/calibration/burned_fit.hpp"

#include "jigtrue/base/least_squares.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr std::size_t kFewest = 5;
constexpr Eigen::Index kUnknowns = 8;  // rotation vector, translation, d, q: as many as a homography has
constexpr double kScalePrior = 0.005;
constexpr double kSquarenessPrior_rad = 0.005;

struct State {
  Rigid camera_from_bed;
  double scale_x_less_y = 0.0;
  double squareness_rad = 0.0;
};

Vector3d middle_of(const std::vector<PlacedMark>& marks) {
  Vector3d sum = Vector3d::Zero();
  for (const PlacedMark& mark : marks) sum += mark.bed_mm / static_cast<double>(marks.size());
  return sum;
}

Vector3d burned(const Vector3d& told, const Vector3d& middle, const State& s) {
  const Vector3d d = told - middle;
  return middle + Vector3d((1.0 + 0.5 * s.scale_x_less_y) * d.x() - s.squareness_rad * d.y(),
                           (1.0 - 0.5 * s.scale_x_less_y) * d.y(), d.z());
}

struct Equations {
  VectorXd residuals;  // predicted less seen, over sigma; then the two priors
  MatrixXd by_state;
  MatrixXd by_lens;
};

std::optional<Equations> equations(const Lens& lens, const std::vector<PlacedMark>& marks, const State& state) {
  const auto n = static_cast<Eigen::Index>(marks.size());
  const Eigen::Index lens_size = lens.parameters.size();
  Equations list{VectorXd(2 * n + 2), MatrixXd::Zero(2 * n + 2, kUnknowns), MatrixXd::Zero(2 * n + 2, lens_size)};
  const Vector3d middle = middle_of(marks);
  Camera camera;
  camera.lens = lens;
  camera.camera_from_bed = state.camera_from_bed;
  for (Eigen::Index i = 0; i < n; ++i) {
    const PlacedMark& mark = marks[static_cast<std::size_t>(i)];
    const auto seen = project_bed_point_with_jacobian(camera, burned(mark.bed_mm, middle, state));
    if (!seen) return std::nullopt;
    const Vector3d d = mark.bed_mm - middle;
    const double weight = 1.0 / mark.sigma_px;
    list.residuals.segment<2>(2 * i) = weight * (seen->px - mark.px);
    list.by_state.block<2, 6>(2 * i, 0) = weight * seen->by_camera.rightCols(6);
    list.by_state.block<2, 1>(2 * i, 6) = weight * seen->by_bed_point * Vector3d(0.5 * d.x(), -0.5 * d.y(), 0.0);
    list.by_state.block<2, 1>(2 * i, 7) = weight * seen->by_bed_point * Vector3d(-d.y(), 0.0, 0.0);
    list.by_lens.middleRows<2>(2 * i) = weight * seen->by_camera.leftCols(lens_size);
  }
  list.residuals[2 * n] = state.scale_x_less_y / kScalePrior;
  list.residuals[2 * n + 1] = state.squareness_rad / kSquarenessPrior_rad;
  list.by_state(2 * n, 6) = 1.0 / kScalePrior;
  list.by_state(2 * n + 1, 7) = 1.0 / kSquarenessPrior_rad;
  return list;
}

State moved(const State& state, const VectorXd& step) {
  State next = state;
  next.camera_from_bed.rotation = rotation_from_vector(step.head<3>()) * state.camera_from_bed.rotation;
  next.camera_from_bed.translation += step.segment<3>(3);
  next.scale_x_less_y += step[6];
  next.squareness_rad += step[7];
  return next;
}

// The mark's own place is uncertain too: as seen in the picture, by its local scale.
std::vector<PlacedMark> with_place_sigma(const Lens& lens, std::vector<PlacedMark> marks, const Rigid& camera_from_bed,
                                         double place_sigma_mm) {
  for (PlacedMark& mark : marks) {
    const double px_per_mm = lens.focal_px().mean() / (camera_from_bed * mark.bed_mm).norm();
    mark.sigma_px = std::hypot(mark.sigma_px, place_sigma_mm * px_per_mm);
  }
  return marks;
}

void set_pose(PoseFit& pose, const std::vector<PlacedMark>& marks, const Equations& list, const State& state) {
  pose.camera.camera_from_bed = state.camera_from_bed;
  double squares = 0.0;
  for (std::size_t i = 0; i < marks.size(); ++i) {
    const Vector2d residual =
        -marks[i].sigma_px * list.residuals.segment<2>(2 * static_cast<Eigen::Index>(i));  // seen less predicted
    pose.points_mm.push_back(marks[i].bed_mm);
    pose.px.push_back(marks[i].px);
    pose.residuals_px.push_back(residual);
    squares += residual.squaredNorm();
  }
  pose.rms_px = std::sqrt(squares / static_cast<double>(marks.size()));
}

}  // namespace

bool BurnedFit::significant() const {
  return std::abs(scale_x_less_y) > 2.0 * std::sqrt(covariance(0, 0)) ||
         std::abs(squareness_rad) > 2.0 * std::sqrt(covariance(1, 1));
}

Outcome<BurnedFit> fit_burned_marks(const LensRecord& lens, const std::vector<PlacedMark>& marks, const Rigid& start,
                                    double place_sigma_mm) {
  if (marks.size() < kFewest) return Failure{"at least five marks are needed"};
  const std::vector<PlacedMark> weighted = with_place_sigma(lens.lens, marks, start, place_sigma_mm);
  State state{start, 0.0, 0.0};
  const auto linearise = [&](const State& at) -> std::optional<ArrowSystem> {
    const auto list = equations(lens.lens, weighted, at);
    if (!list) return std::nullopt;
    ArrowSystem system(kUnknowns, 0, 0);
    system.add_shared(list->residuals, list->by_state);
    system.cost = list->residuals.squaredNorm();
    return system;
  };
  const auto move = [](const State& at, const ArrowStep& step) { return moved(at, step.shared); };
  minimise(state, linearise, move);
  const auto list = equations(lens.lens, weighted, state);
  if (!list) return Failure{"the marks leave the lens's field"};
  const auto inverse = inverse_spd(list->by_state.transpose() * list->by_state);
  if (!inverse) return Failure{"the marks do not determine the camera's place"};

  BurnedFit fit;
  fit.middle_mm = middle_of(marks).head<2>();
  fit.scale_x_less_y = state.scale_x_less_y;
  fit.squareness_rad = state.squareness_rad;
  fit.pose.camera.lens = lens.lens;
  set_pose(fit.pose, weighted, *list, state);
  if (!(fit.pose.camera.centre_mm().z() > 0.0)) return Failure{"the camera would stand below the bed"};
  const double freedom = 2.0 * static_cast<double>(marks.size()) + 2.0 - static_cast<double>(kUnknowns);
  const double sigma0 = std::max(1.0, std::sqrt(list->residuals.squaredNorm() / freedom));
  fit.pose.sigma0_px = sigma0 * weighted.front().sigma_px;

  const Eigen::Index n = lens.lens.parameters.size();
  const MatrixXd by_lens = -(*inverse) * list->by_state.transpose() * list->by_lens;
  const MatrixXd own = sigma0 * sigma0 * (*inverse) + by_lens * lens.covariance * by_lens.transpose();
  MatrixXd joint(n + 6, n + 6);
  joint.topLeftCorner(n, n) = lens.covariance;
  joint.bottomLeftCorner(6, n) = by_lens.topRows(6) * lens.covariance;
  joint.topRightCorner(n, 6) = joint.bottomLeftCorner(6, n).transpose();
  joint.bottomRightCorner(6, 6) = own.topLeftCorner(6, 6);
  fit.pose.camera.covariance = 0.5 * (joint + joint.transpose());
  // what the lens model misses the lens by, one axis
  const double model = lens.model_error_px / std::sqrt(2.0) / weighted.front().sigma_px;
  fit.covariance = own.bottomRightCorner<2, 2>() + model * model * inverse->bottomRightCorner<2, 2>();
  return fit;
}

}  // namespace jigtrue
