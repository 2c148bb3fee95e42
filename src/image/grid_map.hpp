// A smooth map from grid places to the picture: a homography plus a polynomial for the lens's bend, fitted to corners.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <vector>

#include <Eigen/Core>

namespace jigtrue {

class GridMap {
 public:
  // px[row * columns + column] is the corner (column, row). At least 2 x 3 corners. The polynomial's degree follows the
  // number of corners: fourth from 45 corners on (15 terms an axis), third from 30, second from 16, none below. The
  // fourth describes wide lenses to a few tenths of a pixel over a board that fills the picture, the third to 1.5 px.
  GridMap(int columns, int rows, const std::vector<Vector2d>& px);

  [[nodiscard]] Vector2d operator()(double column, double row) const;
  // Derivative by column (axis 0) or row (axis 1).
  [[nodiscard]] Vector2d tangent(double column, double row, int axis) const;
  // Curvature of the grid line that runs along the axis, 1/px; positive towards the tangent turned by +90 degrees in
  // the picture's axes.
  [[nodiscard]] double curvature(double column, double row, int axis) const;

 private:
  [[nodiscard]] Vector2d unit(double column, double row) const;
  Vector2d centre_, half_;
  Matrix3d px_from_unit_ = Matrix3d::Identity();
  Eigen::Matrix<double, Eigen::Dynamic, 2> bend_;
};

}  // namespace jigtrue
