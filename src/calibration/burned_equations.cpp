#include "calibration/burned_equations.hpp"

#include <cmath>

namespace jigtrue {
namespace {

constexpr double kScalePrior = 0.005;           // 5 mm in a metre: common practice, no source
constexpr double kSquarenessPrior_rad = 0.005;  // the same, seen as a slant

Vector3d burned(const Vector3d& told, const Vector3d& middle, const BurnedState& s) {
  const Vector3d d = told - middle;
  return middle + Vector3d((1.0 + 0.5 * s.scale_x_less_y) * d.x() - s.squareness_rad * d.y(),
                           (1.0 - 0.5 * s.scale_x_less_y) * d.y(), d.z());
}

}  // namespace

Vector3d middle_of(const std::vector<PlacedMark>& marks) {
  Vector3d sum = Vector3d::Zero();
  for (const PlacedMark& mark : marks) sum += mark.bed_mm / static_cast<double>(marks.size());
  return sum;
}

std::optional<BurnedEquations> burned_equations(const Lens& lens, const std::vector<PlacedMark>& marks,
                                                const BurnedState& state) {
  const auto n = static_cast<Eigen::Index>(marks.size());
  const Eigen::Index lens_size = lens.parameters.size();
  BurnedEquations list{VectorXd(2 * n + 2), MatrixXd::Zero(2 * n + 2, kBurnedUnknowns),
                       MatrixXd::Zero(2 * n + 2, lens_size)};
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

BurnedState moved(const BurnedState& state, const VectorXd& step) {
  BurnedState next = state;
  next.camera_from_bed.rotation = rotation_from_vector(step.head<3>()) * state.camera_from_bed.rotation;
  next.camera_from_bed.translation += step.segment<3>(3);
  next.scale_x_less_y += step[6];
  next.squareness_rad += step[7];
  return next;
}

std::vector<PlacedMark> with_place_sigma(const Lens& lens, std::vector<PlacedMark> marks, const Rigid& camera_from_bed,
                                         double place_sigma_mm) {
  for (PlacedMark& mark : marks) {
    const double px_per_mm = lens.focal_px().mean() / (camera_from_bed * mark.bed_mm).norm();
    mark.sigma_px = std::hypot(mark.sigma_px, place_sigma_mm * px_per_mm);
  }
  return marks;
}

void set_pose(PoseFit& pose, const std::vector<PlacedMark>& marks, const BurnedEquations& list,
              const BurnedState& state) {
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

}  // namespace jigtrue
