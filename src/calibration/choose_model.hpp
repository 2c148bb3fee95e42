// Which lens model: by photos that took no part in the fit. Internal.
#pragma once
#include "calibration/corner_noise.hpp"
#include "calibration/fit_model.hpp"

namespace jigtrue {

// One left-out photo: its corners as foreseen from the other half of its board.
struct HeldOutView {
  std::vector<Vector2d> foreseen_px;  // the same corners in the same order for every model; empty: not looked at
  double mean_square_px2 = 0.0;       // of the distance to where they were seen, by the corners' weights
  double by_alone = 0.0;              // what of that, corners that err alone by 1 px would give; and together
  double by_together = 0.0;
  MatrixXd by_lens;  // of the corners foreseen, the pose following: sum of J^T J, J by the lens's free parameters
};

struct HeldOut {
  std::vector<HeldOutView> views;  // as the photos
  // Mean square of the distance by which corners foreseen move, corners seen erring alone by 1 px, through the lens.
  double through_lens = 0.0;
  [[nodiscard]] double rms_px() const;
  // The same as corner noise alone would give, through a perfect lens.
  [[nodiscard]] double rms_by_noise_px(const CornerNoise& noise) const;
  // What of the error noise does not explain: 0 unless it shows by more than two standard errors.
  [[nodiscard]] double excess_px(const CornerNoise& noise) const;
};

// Folds of views are left out in turn, the lens is fitted to the others; each left-out board's pose is fitted to one
// half of it (left, right, lower, upper in turn) and foresees the other half. Fails when a fold's fit fails.
[[nodiscard]] Outcome<HeldOut> cross_validate(const ModelFit& fit, const std::vector<bundle::View>& views);

// Typical ratio of a's held-out error to b's: the mean over the views of log(a / b), and its standard error.
struct LogRatio {
  double mean = 0.0;
  double standard_error = 0.0;
};
[[nodiscard]] LogRatio compare(const HeldOut& a, const HeldOut& b);
// Root mean square of the distance between what two models foresee, beyond what noise of so many px (one axis) makes
// of it: the difference of an estimate from a leaner one has, where the leaner holds, the difference of their variances
// (Hausman, Econometrica 46(6) 1978).
[[nodiscard]] double difference_px(const HeldOut& a, const HeldOut& b, double noise_px);

}  // namespace jigtrue
