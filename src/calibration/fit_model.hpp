// One lens model fitted to views: starting values, robust stages, plain least squares. Internal.
#pragma once
#include "jigtrue/base/outcome.hpp"

#include "calibration/bundle.hpp"

namespace jigtrue {

// Distances (px) of seen from predicted; infinite where the model does not reach or the view has no pose.
struct ModelFit {
  bundle::State state;
  std::vector<int> free_lens;
  std::vector<char> has_pose;
  std::vector<std::vector<double>> distance_px;
  std::vector<double> view_median_px;
  double farthest_rad = 0.0;  // from the axis, of the corners that a plain fit used
};

// Whether a lens's map still runs outwards there, with a little to spare.
[[nodiscard]] bool reaches(const Lens& lens, double angle_rad);

// Robust fit to all views, from no starting values but the picture's size. free_lens: indices of the lens parameters
// that move; the others stay at 0. Fails when no start leads anywhere. leaner: a fit of the same family with fewer
// terms, whose parameters come first; where it fits well, this one starts there. other: a fit of another family; where
// it fits well, its focal length and poses are tried first.
[[nodiscard]] Outcome<ModelFit> fit_model_robustly(LensModel model, const std::vector<int>& free_lens,
                                                   const std::vector<bundle::View>& views, int width_px, int height_px,
                                                   const ModelFit* leaner = nullptr, const ModelFit* other = nullptr);

// Plain least squares on the used points of views that have a pose, from a fit that is near. Fails when it does not
// converge, or when the map turns over at the farthest used corner.
[[nodiscard]] Outcome<ModelFit> fit_model_plainly(const ModelFit& start, const std::vector<bundle::View>& views,
                                                  bool fit_board_shape,
                                                  double relative_decrease = LeastSquaresOptions{}.relative_decrease);

// The poses of views that take no part, anew through the lens as it is now; without one where none fits.
void pose_left_out(ModelFit& fit, const std::vector<bundle::View>& views);

// Fills distance_px and view_median_px from the state.
void measure_distances(ModelFit& fit, const std::vector<bundle::View>& views);

[[nodiscard]] double median_or_infinity(std::vector<double> values);

}  // namespace jigtrue
