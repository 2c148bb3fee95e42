#include "calibration/bundle.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace jigtrue::bundle {

namespace {

struct Extent {
  Vector2d centre = Vector2d::Zero();
  Vector2d half = Vector2d::Ones();
  bool shaped = true;  // false: flat and square there
};
Extent extent_of(const std::vector<SeenPoint>& points) {
  Vector2d low = Vector2d::Constant(std::numeric_limits<double>::infinity());
  Vector2d high = -low;
  for (const SeenPoint& p : points) {
    low = low.cwiseMin(p.mm.head<2>());
    high = high.cwiseMax(p.mm.head<2>());
  }
  return {0.5 * (low + high), (0.5 * (high - low)).cwiseMax(1e-9)};
}

Extent extent_of_view(const View& view) {
  Extent extent = extent_of(view.points);
  extent.shaped = view.whole;
  return extent;
}

struct Shaped {
  Vector3d mm;
  Matrix3d by_board;  // columns: stretch, bow_x, bow_y
};
// Numerator and denominator of the rational model may share a factor, whose zero then lies anywhere, inside the picture
// too. Its denominator is therefore held near 1 by a weak expectation, k4..k6 = 0 +/- 0.5, weighed as one coordinate's
// noise of 0.05 px: a thousandth of what some hundred corners say about a lens that needs it.
constexpr double kDenominatorSigma = 0.5;
constexpr double kExpectationNoise_px = 0.05;
constexpr int kFirstDenominator = 9;

void expect_small_denominator(ArrowSystem& system, const State& state, const Settings& settings) {
  const VectorXd precision = expectation(state, settings).precision;
  for (std::size_t k = 0; k < settings.free_lens.size(); ++k) {
    const auto at = static_cast<Eigen::Index>(k);
    const double value = state.lens[settings.free_lens[k]];
    system.shared(at, at) += precision[at];
    system.shared_gradient[at] += precision[at] * value;
    system.cost += precision[at] * value * value;
  }
}

Shaped shape(const BoardShape& board, const Extent& extent, const Vector3d& mm) {
  if (!extent.shaped) return {mm, Matrix3d::Zero()};
  const Vector2d u = (mm.head<2>() - extent.centre).cwiseQuotient(extent.half);
  const double fall_x = 1.0 - u.x() * u.x();
  const double fall_y = 1.0 - u.y() * u.y();
  Shaped result;
  result.mm = {mm.x(), mm.y() * (1.0 + board.stretch), mm.z() + board.bow_x_mm * fall_x + board.bow_y_mm * fall_y};
  result.by_board << 0, 0, 0, mm.y(), 0, 0, 0, fall_x, fall_y;
  return result;
}

using ByShared = Eigen::Matrix<double, 2, Eigen::Dynamic, Eigen::ColMajor, 2, kMaxLensParameters + 3>;

struct LinearPoint {
  Vector2d residual;  // predicted less seen
  ByShared by_shared;
  Eigen::Matrix<double, 2, 6> by_pose;
};

Eigen::Index shared_count(const Settings& settings) {
  return static_cast<Eigen::Index>(settings.free_lens.size()) + (settings.free_board ? 3 : 0);
}

// False when the point lies outside the lens's domain. `linear` is handed in so that its columns are allotted once.
bool linearise_corner(const Lens& lens, const State& state, const Rigid& pose, const Extent& extent,
                      const SeenPoint& seen, const Settings& settings, LinearPoint& linear) {
  const Shaped point = shape(state.board, extent, seen.mm);
  const Vector3d turned = pose.rotation * point.mm;
  const std::optional<Projection> there = project_with_jacobian(lens, turned + pose.translation, LensJacobian::yes);
  if (!there) return false;
  linear.by_shared.resize(2, shared_count(settings));
  for (std::size_t k = 0; k < settings.free_lens.size(); ++k) {
    linear.by_shared.col(static_cast<Eigen::Index>(k)) = there->by_parameters.col(settings.free_lens[k]);
  }
  if (settings.free_board) linear.by_shared.rightCols<3>() = there->by_point * pose.rotation * point.by_board;
  linear.by_pose.leftCols<3>() = -there->by_point * cross_matrix(turned);
  linear.by_pose.rightCols<3>() = there->by_point;
  linear.residual = there->px - seen.px;
  return true;
}

}  // namespace

std::size_t View::used_count() const { return static_cast<std::size_t>(std::count(used.begin(), used.end(), char{1})); }

std::vector<int> all_lens_parameters(LensModel model) {
  std::vector<int> all(static_cast<std::size_t>(4 + distortion_count(model)));
  std::iota(all.begin(), all.end(), 0);
  return all;
}

Vector3d shaped_point(const BoardShape& board, const std::vector<SeenPoint>& points, const Vector3d& mm) {
  return shape(board, extent_of(points), mm).mm;
}

Matrix3d by_shape(const std::vector<SeenPoint>& points, const Vector3d& mm) {
  return shape({}, extent_of(points), mm).by_board;
}

std::optional<ArrowSystem> linearise(const State& state, const std::vector<View>& views, const Settings& settings) {
  const Outcome<Lens> lens = try_make_lens(state.model, state.width_px, state.height_px, state.lens);
  if (!lens) return std::nullopt;
  ArrowSystem system(shared_count(settings), views.size(), 6);
  LinearPoint point;
  for (std::size_t i = 0; i < views.size(); ++i) {
    const View& view = views[i];
    const Extent extent = extent_of_view(view);
    for (std::size_t j = 0; j < view.points.size(); ++j) {
      if (!view.used[j]) continue;
      if (!linearise_corner(*lens, state, state.poses[i], extent, view.points[j], settings, point)) return std::nullopt;
      const RobustLoss loss = cauchy_loss(view.weight[j] * point.residual.squaredNorm(), settings.cauchy_px);
      system.add(point.residual, point.by_shared, i, point.by_pose, view.weight[j] * loss.weight);
      system.cost += loss.cost;
    }
  }
  expect_small_denominator(system, state, settings);
  return system;
}

std::optional<FittedView> fitted_view(const State& state, const View& view, std::size_t index,
                                      const Settings& settings) {
  const Outcome<Lens> lens = try_make_lens(state.model, state.width_px, state.height_px, state.lens);
  if (!lens) return std::nullopt;
  const auto count = static_cast<Eigen::Index>(view.used_count());
  FittedView fitted;
  fitted.by_pose.resize(2 * count, 6);
  fitted.by_shared.resize(2 * count, shared_count(settings));
  fitted.residual_px.resize(2 * count);
  const Extent extent = extent_of_view(view);
  LinearPoint point;
  for (std::size_t j = 0; j < view.points.size(); ++j) {
    if (!view.used[j]) continue;
    if (!linearise_corner(*lens, state, state.poses[index], extent, view.points[j], settings, point)) {
      return std::nullopt;
    }
    const auto row = static_cast<Eigen::Index>(fitted.mm.size());
    const double root = std::sqrt(view.weight[j]);
    for (const Eigen::Index axis : {0, 1}) {
      fitted.by_pose.row(axis * count + row) = root * point.by_pose.row(axis);
      fitted.by_shared.row(axis * count + row) = root * point.by_shared.row(axis);
      fitted.residual_px[axis * count + row] = -root * point.residual[axis];
    }
    fitted.mm.emplace_back(view.points[j].mm.head<2>());
    fitted.root_weight.push_back(root);
  }
  return fitted;
}

Expectation expectation(const State& state, const Settings& settings) {
  Expectation expected{VectorXd::Zero(shared_count(settings)), kExpectationNoise_px};
  if (state.model != LensModel::rational8) return expected;
  const double weight = kExpectationNoise_px / kDenominatorSigma;
  for (std::size_t k = 0; k < settings.free_lens.size(); ++k) {
    if (settings.free_lens[k] >= kFirstDenominator) expected.precision[static_cast<Eigen::Index>(k)] = weight * weight;
  }
  return expected;
}

LeastSquaresSummary solve(State& state, const std::vector<View>& views, const Settings& settings) {
  const auto at = [&](const State& s) { return linearise(s, views, settings); };
  const auto move = [&](const State& s, const ArrowStep& step) {
    State moved = s;
    const std::size_t lens_count = settings.free_lens.size();
    for (std::size_t k = 0; k < lens_count; ++k)
      moved.lens[settings.free_lens[k]] += step.shared[static_cast<Eigen::Index>(k)];
    if (settings.free_board) {
      moved.board.stretch += step.shared[static_cast<Eigen::Index>(lens_count)];
      moved.board.bow_x_mm += step.shared[static_cast<Eigen::Index>(lens_count) + 1];
      moved.board.bow_y_mm += step.shared[static_cast<Eigen::Index>(lens_count) + 2];
    }
    for (std::size_t i = 0; i < moved.poses.size(); ++i) {
      Rigid& pose = moved.poses[i];
      const Matrix3d turned = rotation_from_vector(step.blocks[i].head<3>()) * pose.rotation;
      pose.rotation = Eigen::Quaterniond(turned).normalized().toRotationMatrix();
      pose.translation += step.blocks[i].tail<3>();
    }
    return moved;
  };
  LeastSquaresOptions options;
  options.max_iterations = settings.max_iterations;
  options.relative_decrease = settings.relative_decrease;
  options.smallest_cost = 1e-18;  // a thousand corners at 3e-11 px: rounding is all that is left
  return minimise(state, at, move, options);
}

std::vector<Vector2d> residuals_px(const State& state, const Lens& lens, const View& view, std::size_t index) {
  const Extent extent = extent_of_view(view);
  std::vector<Vector2d> residuals;
  residuals.reserve(view.points.size());
  for (const SeenPoint& point : view.points) {
    const std::optional<Vector2d> px = project(lens, state.poses[index] * shape(state.board, extent, point.mm).mm);
    residuals.push_back(px ? Vector2d(point.px - *px) : Vector2d::Constant(std::numeric_limits<double>::infinity()));
  }
  return residuals;
}

}  // namespace jigtrue::bundle
