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
  double heading_rad = 0.0;                 // of the placed design
  std::optional<double> turn_rad;           // mark's direction less the placed one
  double turn_sigma_rad = 0.0;
  // d off / d (whatever all marks share: the camera's parameters, the heights), scaled to standard deviations of
  // independent causes: columns of one cause each, the same number for all marks.
  MatrixXd shared_mm;
  MatrixXd shared_turn_rad;  // likewise of its direction: one row; empty: none
};

// Scale and squareness are fitted, too, from four marks on, each told where the marks' spread narrows it; shift and
// turn come from that fit once some of it is sure. Weighted least squares of shift and turn about `about_mm`; marks
// scatter by what they state themselves or, where that is more, by what they show. Nothing without marks; no turn from
// less than two unless a mark's own direction tells it.
[[nodiscard]] std::optional<BeamReading> read_beam(const std::vector<BeamWitness>& marks, const Vector2d& about_mm);

}  // namespace jigtrue
