// Which lens model: by photos that took no part in the fit. Internal.
#pragma once
#include "calibration/fit_model.hpp"

namespace jigtrue {

struct HeldOut {
  std::vector<double> mean_square_px2;  // per view with a pose: of the distance, over its predicted corners
  double expected_px2 = 0.0;            // mean over the views of what noise of 1 px (one axis) alone would give
  [[nodiscard]] double rms_px() const;
};

// Folds of views are left out in turn, the lens is fitted to the others; each left-out board's pose is fitted to one
// half of it (left, right, lower, upper in turn) and predicts the other half. Fails when a fold's fit fails.
[[nodiscard]] Outcome<HeldOut> cross_validate(const ModelFit& fit, const std::vector<bundle::View>& views);

// Typical ratio of a's held-out error to b's: the mean over the views of log(a / b), and its standard error.
struct LogRatio {
  double mean = 0.0;
  double standard_error = 0.0;
};
[[nodiscard]] LogRatio compare(const HeldOut& a, const HeldOut& b);

}  // namespace jigtrue
