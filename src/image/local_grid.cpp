#include "image/local_grid.hpp"

#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr int kReach = 3;             // places
constexpr double kWeightReach = 1.0;  // places, standard deviation of the weights
// Corners lie within about 0.01 of the spacing of a smooth map; its second derivatives within 0.1 (perspective and
// lens together): the square of the ratio.
constexpr double kExpectation = 0.01;
constexpr int kTerms = 6;

double cross(const Vector2d& a, const Vector2d& b) { return a.x() * b.y() - a.y() * b.x(); }

}  // namespace

std::optional<LocalGrid> local_grid(const PlacedCorners& corners, const GridPlace& at) {
  using Terms = Eigen::Matrix<double, kTerms, 1>;
  Eigen::Matrix<double, kTerms, kTerms> normal = Eigen::Matrix<double, kTerms, kTerms>::Zero();
  Eigen::Matrix<double, kTerms, 2> right = Eigen::Matrix<double, kTerms, 2>::Zero();
  LocalGrid result;
  double nearest = 1e9;
  bool columns[2 * kReach + 1] = {};
  bool rows[2 * kReach + 1] = {};
  for (int column = -kReach; column <= kReach; ++column) {
    for (auto it = corners.lower_bound({at.column + column, at.row - kReach});
         it != corners.end() && it->first.column == at.column + column && it->first.row <= at.row + kReach; ++it) {
      const int row = it->first.row - at.row;
      if (column == 0 && row == 0) continue;
      const double u = column;
      const double v = row;
      const double squared = u * u + v * v;
      const double weight = std::exp(-0.5 * squared / (kWeightReach * kWeightReach));
      Terms terms;
      terms << 1.0, u, v, u * v, u * u, v * v;
      normal += weight * terms * terms.transpose();
      right += weight * terms * it->second.px.transpose();
      columns[column + kReach] = rows[row + kReach] = true;
      ++result.support;
      if (squared >= nearest) continue;
      nearest = squared;
      result.nearest = &it->second;
    }
  }
  const auto count = [](const bool(&seen)[2 * kReach + 1]) {
    int n = 0;
    for (const bool s : seen) n += s ? 1 : 0;
    return n;
  };
  if (result.support < 3 || count(columns) < 2 || count(rows) < 2) return std::nullopt;
  for (int term = 3; term < kTerms; ++term) normal(term, term) += kExpectation;
  const Eigen::Matrix<double, kTerms, 2> map = normal.ldlt().solve(right);
  result.px = map.row(0);
  for (const int axis : {0, 1}) {
    result.tangent[static_cast<std::size_t>(axis)] = map.row(1 + axis);
    const Vector2d tangent = map.row(1 + axis);
    const Vector2d second = 2.0 * map.row(4 + axis);
    const double speed = tangent.norm();
    result.curvature[static_cast<std::size_t>(axis)] = cross(tangent, second) / (speed * speed * speed);
  }
  if (!map.allFinite() || !(result.spacing() > 1.0)) return std::nullopt;
  return result;
}

}  // namespace jigtrue
