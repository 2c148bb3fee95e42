// The pose of marks that a machine has burned, fitted together with what the machine does to them.
#pragma once
#include "jigtrue/calibration/pose_fit.hpp"

#include <vector>

namespace jigtrue {

// The machine puts what it was told to be p at  middle + [[1 + d / 2, -q], [0, 1 - d / 2]] (p - middle):  d is the
// scale along X less that along Y, q (rad) the angle between the axes less 90 degrees. A scale common to both axes, a
// shift and a turn cannot be told from the camera's own place. Left out of the fit, d and q would pass for a tilt of
// the camera, which puts everything above the sheet aside.
struct BurnedFit {
  PoseFit pose;  // points_mm as told to the machine; residuals are what pose, d and q leave
  Vector2d middle_mm = Vector2d::Zero();
  double scale_x_less_y = 0.0;
  double squareness_rad = 0.0;
  Matrix2d covariance = Matrix2d::Zero();  // of these two, the lens's share included

  // Either figure lies beyond its own 95 % half-width.
  [[nodiscard]] bool significant() const;
};

// From a first pose. place_sigma_mm: how well the machine repeats, one axis. Fails with fewer than five marks, and
// where they determine nothing. Machines are taken to be right within about half a percent and a third of a degree
// (common practice, no source); any good sheet outvotes that.
[[nodiscard]] Outcome<BurnedFit> fit_burned_marks(const LensRecord& lens, const std::vector<PlacedMark>& marks,
                                                  const Rigid& start, double place_sigma_mm);

}  // namespace jigtrue
