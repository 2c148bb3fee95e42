// What burns have in common against where the layout put them: the shift and turn between camera and beam.
#pragma once
#include "jigtrue/inspection/inspection_result.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

// One burned mark against its placed design.
struct BeamWitness {
  Vector2d placed_mm = Vector2d::Zero();
  Vector2d off_mm = Vector2d::Zero();       // mark less placed
  Matrix2d own_mm2 = Matrix2d::Identity();  // covariance of what is this mark's alone
  std::optional<double> turn_rad;           // mark's direction less the placed one
  double turn_sigma_rad = 0.0;
  // d off / d (whatever all marks share: the camera's parameters, the heights), scaled to standard deviations of
  // independent causes: columns of one cause each, the same number for all marks.
  MatrixXd shared_mm;
};

// Weighted least squares of shift and turn about `about_mm`; marks scatter by what they state themselves or, where that
// is more, by what they show. Nothing without marks; no turn from less than two unless a mark's own direction tells it.
[[nodiscard]] std::optional<BeamReading> read_beam(const std::vector<BeamWitness>& marks, const Vector2d& about_mm);

}  // namespace jigtrue
