#include "jigtrue/inspection/beam_reading.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/series.hpp"
#include "jigtrue/inspection/apply_beam.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

// Columns of the fit: shift along X and Y, turn; then the stretch.
constexpr Eigen::Index kBeamTurn = 2;
constexpr Eigen::Index kBeamRigid = 3;
constexpr Eigen::Index kScaleX = 3;
constexpr Eigen::Index kScaleY = 4;
constexpr Eigen::Index kSquare = 5;
constexpr Eigen::Index kBeamWhole = 6;
// What machines' axes are off by before anything is known of them: a hundredth (common practice, no source).
constexpr double kStretchBefore = 0.01;

// d off / d columns.
MatrixXd by_columns(const BeamWitness& mark, const Vector2d& about_mm, Eigen::Index columns) {
  const Vector2d arm = mark.placed_mm - about_mm;
  Eigen::Matrix<double, 2, kBeamWhole> all;
  all << 1.0, 0.0, -arm.y(), arm.x(), 0.0, -arm.y(),  //
      0.0, 1.0, arm.x(), 0.0, arm.y(), 0.0;
  return all.leftCols(columns);
}

// d (the mark's direction less the placed one) / d columns.
Eigen::RowVectorXd turn_by_columns(const BeamWitness& mark, Eigen::Index columns) {
  const double c = std::cos(mark.heading_rad);
  const double s = std::sin(mark.heading_rad);
  Eigen::Matrix<double, 1, kBeamWhole> all;
  all << 0.0, 0.0, 1.0, -s * c, s * c, s * s;
  return all.leftCols(columns);
}

// Marks of one drawing are turned alike by how truly a beam burns it and a lens shows it: all their directions together
// tell the turn no better than one.
double turn_sigma_among(const BeamWitness& mark, std::size_t marks) {
  return mark.turn_sigma_rad * std::sqrt(static_cast<double>(marks));
}

bool tells_turn(const BeamWitness& mark) { return mark.turn_rad && mark.turn_sigma_rad > 0.0; }

struct BeamFit {
  VectorXd solution;
  MatrixXd own;     // covariance of what is the marks' alone
  MatrixXd common;  // and of what they share
  double factor = kCoverageFactor95;
  double scatter_mm = 0.0;

  [[nodiscard]] double own_u(Eigen::Index i) const { return factor * std::sqrt(own(i, i)); }
  [[nodiscard]] double whole_u(Eigen::Index i) const {
    return std::hypot(own_u(i), kCoverageFactor95 * std::sqrt(common(i, i)));
  }
};

std::optional<BeamFit> fit_beam(const std::vector<BeamWitness>& marks, const Vector2d& about_mm, Eigen::Index columns) {
  MatrixXd normal = MatrixXd::Zero(columns, columns);
  VectorXd right = VectorXd::Zero(columns);
  for (Eigen::Index i = kBeamRigid; i < columns; ++i) normal(i, i) = 1.0 / (kStretchBefore * kStretchBefore);
  bool turn_told = marks.size() > 1;
  for (const BeamWitness& mark : marks) {
    const Matrix2d weight = mark.own_mm2.inverse();
    const MatrixXd by = by_columns(mark, about_mm, columns);
    normal += by.transpose() * weight * by;
    right += by.transpose() * weight * mark.off_mm;
    if (!tells_turn(mark)) continue;
    turn_told = true;
    const double sigma = turn_sigma_among(mark, marks.size());
    const Eigen::RowVectorXd turn = turn_by_columns(mark, columns) / sigma;
    normal += turn.transpose() * turn;
    right += turn.transpose() * *mark.turn_rad / sigma;
  }
  if (!turn_told) normal(kBeamTurn, kBeamTurn) += 1e12;
  const MatrixXd inverse = normal.inverse();
  if (!inverse.allFinite()) return std::nullopt;
  BeamFit fit;
  fit.solution = inverse * right;
  double chi = 0.0;
  double square = 0.0;
  MatrixXd shared = MatrixXd::Zero(columns, marks.front().shared_mm.cols());
  for (const BeamWitness& mark : marks) {
    const Matrix2d weight = mark.own_mm2.inverse();
    const MatrixXd by = by_columns(mark, about_mm, columns);
    const Vector2d rest = mark.off_mm - by * fit.solution;
    chi += rest.dot(weight * rest);
    square += rest.squaredNorm();
    if (mark.shared_mm.cols() == shared.cols()) shared += inverse * by.transpose() * weight * mark.shared_mm;
    if (tells_turn(mark) && mark.shared_turn_rad.cols() == shared.cols())
      shared += inverse * turn_by_columns(mark, columns).transpose() * mark.shared_turn_rad /
                std::pow(turn_sigma_among(mark, marks.size()), 2);
  }
  const double freedom = 2.0 * static_cast<double>(marks.size()) - static_cast<double>(columns);
  const bool enough = freedom > 0.5;
  // what marks scatter more than they state is told by few of them only
  fit.own = (enough ? std::max(1.0, chi / freedom) : 1.0) * inverse;
  if (enough && chi > freedom) fit.factor = students_t(freedom);
  fit.common = shared * shared.transpose();
  fit.scatter_mm = enough ? std::sqrt(square / freedom) : 0.0;
  return fit;
}

// Nothing where the marks narrow what was known before by less than half.
std::optional<Figure> told(const BeamFit& fit, Eigen::Index i, double unit, bool whole) {
  if (fit.own_u(i) > 0.5 * kCoverageFactor95 * kStretchBefore) return std::nullopt;
  return Figure{unit * fit.solution(i), unit * (whole ? fit.whole_u(i) : fit.own_u(i))};
}

BeamStretch stretch_of(const BeamFit& fit, bool whole) {
  return {told(fit, kScaleX, 1.0, whole), told(fit, kScaleY, 1.0, whole), told(fit, kSquare, deg_from_rad(1.0), whole)};
}

}  // namespace

std::optional<BeamReading> read_beam(const std::vector<BeamWitness>& marks, const Vector2d& about_mm) {
  if (marks.empty()) return std::nullopt;
  auto fit = fit_beam(marks, about_mm, kBeamRigid);
  if (!fit) return std::nullopt;
  BeamReading beam;
  beam.about_mm = about_mm;
  for (const BeamWitness& mark : marks) beam.reach_mm = beam.reach_mm.cwiseMax((mark.placed_mm - about_mm).cwiseAbs());
  if (const auto whole = fit_beam(marks, about_mm, kBeamWhole); whole && marks.size() > kBeamRigid) {
    beam.stretch = stretch_of(*whole, false);
    beam.stretch_whole = stretch_of(*whole, true);
    if (is_sure(beam.stretch)) fit = whole;
  }
  beam.shift_mm = fit->solution.head<2>();
  beam.turn_deg = deg_from_rad(fit->solution(kBeamTurn));
  for (int axis = 0; axis < 2; ++axis) {
    beam.own_u_mm[axis] = fit->own_u(axis);
    beam.shift_u_mm[axis] = fit->whole_u(axis);
  }
  beam.own_turn_u_deg = deg_from_rad(fit->own_u(kBeamTurn));
  beam.turn_u_deg = deg_from_rad(fit->whole_u(kBeamTurn));
  beam.scatter_mm = fit->scatter_mm;
  beam.slots = static_cast<int>(marks.size());
  return beam;
}

}  // namespace jigtrue
