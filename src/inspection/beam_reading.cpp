#include "jigtrue/inspection/beam_reading.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/series.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {

std::optional<BeamReading> read_beam(const std::vector<BeamWitness>& marks, const Vector2d& about_mm) {
  if (marks.empty()) return std::nullopt;
  Matrix3d normal = Matrix3d::Zero();
  Vector3d right = Vector3d::Zero();
  const auto design = [&](const BeamWitness& mark) {
    const Vector2d arm = mark.placed_mm - about_mm;
    Eigen::Matrix<double, 2, 3> a;
    a << 1.0, 0.0, -arm.y(), 0.0, 1.0, arm.x();
    return a;
  };
  bool turn_told = marks.size() > 1;
  for (const BeamWitness& mark : marks) {
    const Matrix2d weight = mark.own_mm2.inverse();
    normal += design(mark).transpose() * weight * design(mark);
    right += design(mark).transpose() * weight * mark.off_mm;
    if (!mark.turn_rad || !(mark.turn_sigma_rad > 0.0)) continue;
    turn_told = true;
    const double w = 1.0 / (mark.turn_sigma_rad * mark.turn_sigma_rad);
    normal(2, 2) += w;
    right(2) += w * *mark.turn_rad;
  }
  if (!turn_told) normal(2, 2) += 1e12;
  const Matrix3d inverse = normal.inverse();
  if (!inverse.allFinite()) return std::nullopt;
  const Vector3d solution = inverse * right;
  double chi = 0.0;
  double square = 0.0;
  MatrixXd shared = MatrixXd::Zero(3, marks.front().shared_mm.cols());
  for (const BeamWitness& mark : marks) {
    const Matrix2d weight = mark.own_mm2.inverse();
    const Vector2d rest = mark.off_mm - design(mark) * solution;
    chi += rest.dot(weight * rest);
    square += rest.squaredNorm();
    if (mark.shared_mm.cols() == shared.cols()) shared += inverse * design(mark).transpose() * weight * mark.shared_mm;
  }
  const double freedom = 2.0 * static_cast<double>(marks.size()) - 3.0;
  const bool enough = freedom > 0.5;
  // what marks scatter more than they state is told by few of them only
  const double scale = enough ? std::max(1.0, chi / freedom) : 1.0;
  const double factor = enough && chi > freedom ? students_t(freedom) : kCoverageFactor95;
  const Matrix3d own = scale * inverse;
  const Matrix3d common = shared * shared.transpose();
  BeamReading beam;
  beam.about_mm = about_mm;
  beam.shift_mm = solution.head<2>();
  beam.turn_deg = deg_from_rad(solution(2));
  for (int axis = 0; axis < 2; ++axis) {
    beam.own_u_mm[axis] = factor * std::sqrt(own(axis, axis));
    beam.shift_u_mm[axis] = std::hypot(beam.own_u_mm[axis], kCoverageFactor95 * std::sqrt(common(axis, axis)));
  }
  beam.own_turn_u_deg = deg_from_rad(factor * std::sqrt(own(2, 2)));
  beam.turn_u_deg =
      deg_from_rad(std::hypot(factor * std::sqrt(own(2, 2)), kCoverageFactor95 * std::sqrt(common(2, 2))));
  beam.scatter_mm = enough ? std::sqrt(square / freedom) : 0.0;
  beam.slots = static_cast<int>(marks.size());
  return beam;
}

}  // namespace jigtrue
