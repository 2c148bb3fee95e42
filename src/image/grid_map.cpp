#include "image/grid_map.hpp"

#include "jigtrue/base/decompositions.hpp"

#include <limits>
#include <optional>

namespace jigtrue {
namespace {

int terms_for(std::size_t corners) { return corners >= 45 ? 15 : corners >= 30 ? 10 : corners >= 16 ? 6 : 0; }

using Monomials = Eigen::Matrix<double, 15, 1>;

Monomials monomials(const Vector2d& u) {
  const double x = u.x();
  const double y = u.y();
  Monomials m;
  m << 1.0, x, y, x * x, x * y, y * y, x * x * x, x * x * y, x * y * y, y * y * y, x * x * x * x, x * x * x * y,
      x * x * y * y, x * y * y * y, y * y * y * y;
  return m;
}

// Least squares on the algebraic error, coordinates normalised (Hartley, PAMI 19(6) 1997).
Matrix3d fit_homography(const std::vector<Vector2d>& from, const std::vector<Vector2d>& to) {
  Vector2d mean = Vector2d::Zero();
  for (const Vector2d& p : to) mean += p / static_cast<double>(to.size());
  double spread = 0.0;
  for (const Vector2d& p : to) spread += (p - mean).norm() / static_cast<double>(to.size());
  Eigen::Matrix<double, 9, 9> normal = Eigen::Matrix<double, 9, 9>::Zero();
  for (std::size_t i = 0; i < from.size(); ++i) {
    const Vector2d q = (to[i] - mean) / spread;
    const Vector3d p = from[i].homogeneous();
    Eigen::Matrix<double, 9, 1> first, second;
    first << p, Vector3d::Zero(), -q.x() * p;
    second << Vector3d::Zero(), p, -q.y() * p;
    normal += first * first.transpose() + second * second.transpose();
  }
  const std::optional<SymmetricEigen> eigen = symmetric_eigen(normal);
  // corners all in one place have no map: what it foretells is then no number and meets no corner
  if (!eigen) return Matrix3d::Constant(std::numeric_limits<double>::quiet_NaN());
  Matrix3d rows;
  const auto h = eigen->vectors.col(0);
  rows << h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], h[8];
  Matrix3d px_from_normalised = Matrix3d::Identity();
  px_from_normalised.topLeftCorner<2, 2>() *= spread;
  px_from_normalised.topRightCorner<2, 1>() = mean;
  return px_from_normalised * rows;
}

}  // namespace

GridMap::GridMap(int columns, int rows, const std::vector<Vector2d>& px)
    : centre_(0.5 * (columns - 1), 0.5 * (rows - 1)), half_(0.5 * (columns - 1), 0.5 * (rows - 1)) {
  std::vector<Vector2d> units;
  units.reserve(px.size());
  for (int row = 0; row < rows; ++row)
    for (int column = 0; column < columns; ++column) units.push_back(unit(column, row));
  px_from_unit_ = fit_homography(units, px);
  const int terms = terms_for(px.size());
  bend_ = Eigen::Matrix<double, Eigen::Dynamic, 2>::Zero(terms, 2);
  if (terms == 0) return;
  MatrixXd design(static_cast<Eigen::Index>(px.size()), terms);
  Eigen::Matrix<double, Eigen::Dynamic, 2> rest(static_cast<Eigen::Index>(px.size()), 2);
  for (std::size_t i = 0; i < px.size(); ++i) {
    const auto line = static_cast<Eigen::Index>(i);
    design.row(line) = monomials(units[i]).head(terms).transpose();
    const Vector2d straight = (px_from_unit_ * units[i].homogeneous()).hnormalized();
    rest.row(line) = (px[i] - straight).transpose();
  }
  bend_ = solve_least_squares(design, rest);
}

Vector2d GridMap::unit(double column, double row) const {
  return (Vector2d(column, row) - centre_).cwiseQuotient(half_);
}

Vector2d GridMap::operator()(double column, double row) const {
  const Vector2d u = unit(column, row);
  Vector2d straight = (px_from_unit_ * u.homogeneous()).hnormalized();
  if (bend_.rows() == 0) return straight;
  return straight + bend_.transpose() * monomials(u).head(bend_.rows());
}

// The map is smooth over a square, so differences over a quarter square are exact to far below what is asked of them.
Vector2d GridMap::tangent(double column, double row, int axis) const {
  constexpr double kStep = 0.25;
  const double dc = axis == 0 ? kStep : 0.0;
  const double dr = axis == 0 ? 0.0 : kStep;
  return ((*this)(column + dc, row + dr) - (*this)(column - dc, row - dr)) / (2.0 * kStep);
}

double GridMap::curvature(double column, double row, int axis) const {
  constexpr double kStep = 0.25;
  const double dc = axis == 0 ? kStep : 0.0;
  const double dr = axis == 0 ? 0.0 : kStep;
  const Vector2d first = tangent(column, row, axis);
  const Vector2d second =
      ((*this)(column + dc, row + dr) - 2.0 * (*this)(column, row) + (*this)(column - dc, row - dr)) / (kStep * kStep);
  const double speed = first.norm();
  return (first.x() * second.y() - first.y() * second.x()) / (speed * speed * speed);
}

}  // namespace jigtrue
