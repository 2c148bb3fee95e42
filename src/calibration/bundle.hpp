// Lens and poses of many views of one flat target, solved together. Internal to the calibration layer.
#pragma once
#include "jigtrue/base/least_squares.hpp"
#include "jigtrue/calibration/view_pose.hpp"

#include <optional>
#include <string>
#include <vector>

#include "calibration/corner_noise.hpp"

namespace jigtrue::bundle {

// One photo's points; the flags say which points take part. weight: of a point's squared distance, 1 for a usual point
// (screen_views: relative_weights).
struct View {
  std::vector<SeenPoint> points;
  std::vector<char> used;
  std::vector<double> weight;
  bool whole = true;  // its points span the sheet; of a part nobody knows where on the sheet it lies: it counts as flat
  [[nodiscard]] std::size_t used_count() const;
};

// How the printed board may differ from its nominal shape: y stretched by (1 + stretch), and bent to
// z = bow_x (1 - u^2) + bow_y (1 - v^2), u and v running from -1 to 1 over the points' extent. mm.
struct BoardShape {
  double stretch = 0.0;
  double bow_x_mm = 0.0;
  double bow_y_mm = 0.0;
};

struct State {
  LensModel model = LensModel::radial5;
  int width_px = 0;
  int height_px = 0;
  VectorXd lens;
  BoardShape board;
  std::vector<Rigid> poses;  // camera_from_board, one a view
};

struct Settings {
  std::vector<int> free_lens;  // indices of the lens parameters that move
  bool free_board = false;     // the three numbers of BoardShape too
  double cauchy_px = 0.0;      // 0: plain least squares
  int max_iterations = 100;
  double relative_decrease = LeastSquaresOptions{}.relative_decrease;
};
[[nodiscard]] std::vector<int> all_lens_parameters(LensModel model);

[[nodiscard]] LeastSquaresSummary solve(State& state, const std::vector<View>& views, const Settings& settings);
// Normal equations at a state; nothing when a point lies outside the lens's domain.
[[nodiscard]] std::optional<ArrowSystem> linearise(const State& state, const std::vector<View>& views,
                                                   const Settings& settings);

// Residuals and Jacobians of a view's used points; nothing where linearise gives nothing.
[[nodiscard]] std::optional<FittedView> fitted_view(const State& state, const View& view, std::size_t index,
                                                    const Settings& settings);
// What linearise expects of the free parameters beforehand.
[[nodiscard]] Expectation expectation(const State& state, const Settings& settings);

// A view's point in the shape that the board really has.
[[nodiscard]] Vector3d shaped_point(const BoardShape& board, const std::vector<SeenPoint>& points, const Vector3d& mm);

// d shaped point / d (stretch, bow_x, bow_y).
[[nodiscard]] Matrix3d by_shape(const std::vector<SeenPoint>& points, const Vector3d& mm);

// Seen less predicted of every point of a view, used or not; an infinite vector where the model does not reach.
[[nodiscard]] std::vector<Vector2d> residuals_px(const State& state, const Lens& lens, const View& view,
                                                 std::size_t index);

}  // namespace jigtrue::bundle
