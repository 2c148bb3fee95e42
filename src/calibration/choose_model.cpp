#include "calibration/choose_model.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace jigtrue {

namespace {

constexpr std::size_t kMostFolds = 10;

struct Prediction {
  double sum_px2 = 0.0;
  double expected = 0.0;  // of the same sum, for noise of 1 px in each axis
  std::size_t count = 0;
};

// Pose from the points on one side of a line, error on the others.
std::optional<Prediction> predict_half(const Lens& lens, const std::vector<SeenPoint>& points,
                                       const std::vector<char>& known, const Rigid& start) {
  std::vector<SeenPoint> half;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (known[i]) half.push_back(points[i]);
  }
  if (half.size() < 6 || half.size() + 3 > points.size()) return Prediction{};
  const Outcome<ViewPose> pose = refine_pose(lens, half, start);
  if (!pose) return std::nullopt;
  const std::optional<MatrixXd> covariance = inverse_spd(pose->normal);
  if (!covariance) return Prediction{};
  Prediction prediction;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (known[i]) continue;
    const Vector3d turned = pose->camera_from_body.rotation * points[i].mm;
    const std::optional<Projection> there = project_with_jacobian(lens, turned + pose->camera_from_body.translation);
    if (!there) return std::nullopt;
    Eigen::Matrix<double, 2, 6> by_pose;
    by_pose << -there->by_point * cross_matrix(turned), there->by_point;
    prediction.sum_px2 += (points[i].px - there->px).squaredNorm();
    prediction.expected += 2.0 + (by_pose * *covariance * by_pose.transpose()).trace();
    ++prediction.count;
  }
  return prediction;
}

std::optional<Prediction> predict_view(const Lens& lens, const bundle::View& view, const Rigid& start) {
  std::vector<SeenPoint> points;
  for (std::size_t i = 0; i < view.points.size(); ++i) {
    if (!view.used[i]) continue;
    points.push_back(view.points[i]);
    points.back().sigma_px = 1.0;
  }
  Prediction total;
  for (const int axis : {0, 1}) {
    std::vector<double> position;
    position.reserve(points.size());
    for (const SeenPoint& p : points) position.push_back(p.mm[axis]);
    if (position.empty()) return std::nullopt;
    const auto [low, high] = std::minmax_element(position.begin(), position.end());
    const double middle = 0.5 * (*low + *high);
    for (const bool upper : {false, true}) {
      std::vector<char> known;
      known.reserve(position.size());
      for (const double p : position) known.push_back((p > middle) == upper ? char{1} : char{0});
      const std::optional<Prediction> half = predict_half(lens, points, known, start);
      if (!half) return std::nullopt;
      total.sum_px2 += half->sum_px2;
      total.expected += half->expected;
      total.count += half->count;
    }
  }
  if (total.count == 0) return std::nullopt;
  return total;
}

}  // namespace

double HeldOut::rms_px() const {
  return std::sqrt(std::accumulate(mean_square_px2.begin(), mean_square_px2.end(), 0.0) /
                   static_cast<double>(mean_square_px2.size()));
}

Outcome<HeldOut> cross_validate(const ModelFit& fit, const std::vector<bundle::View>& views) {
  std::vector<std::size_t> posed;
  for (std::size_t i = 0; i < views.size(); ++i) {
    if (fit.has_pose[i] && views[i].used_count() > 0) posed.push_back(i);
  }
  const std::size_t folds = std::min(kMostFolds, posed.size());
  HeldOut held_out;
  held_out.mean_square_px2.assign(posed.size(), 0.0);
  for (std::size_t fold = 0; fold < folds; ++fold) {
    std::vector<bundle::View> others = views;
    for (std::size_t k = fold; k < posed.size(); k += folds) {
      std::fill(others[posed[k]].used.begin(), others[posed[k]].used.end(), char{0});
    }
    const Outcome<ModelFit> trained = fit_model_plainly(fit, others, false);
    if (!trained) return Failure{"with some photos left out, " + trained.reason()};
    const bundle::State& state = trained->state;
    const Lens lens = make_lens(state.model, state.width_px, state.height_px, state.lens);
    for (std::size_t k = fold; k < posed.size(); k += folds) {
      const std::optional<Prediction> p = predict_view(lens, views[posed[k]], fit.state.poses[posed[k]]);
      if (!p) return Failure{"with some photos left out, its map does not reach their corners"};
      const double n = static_cast<double>(p->count);
      held_out.mean_square_px2[k] = p->sum_px2 / n;
      held_out.expected_px2 += p->expected / n / static_cast<double>(posed.size());
    }
  }
  if (held_out.mean_square_px2.empty()) return Failure{"no photo to hold out"};
  return held_out;
}

LogRatio compare(const HeldOut& a, const HeldOut& b) {
  const std::size_t n = std::min(a.mean_square_px2.size(), b.mean_square_px2.size());
  std::vector<double> logs;
  for (std::size_t i = 0; i < n; ++i) {
    // exact data leave rounding only: 1e-9 px keeps its ratios from deciding anything
    logs.push_back(0.5 * std::log((a.mean_square_px2[i] + 1e-18) / (b.mean_square_px2[i] + 1e-18)));
  }
  LogRatio ratio;
  for (const double v : logs) ratio.mean += v / static_cast<double>(n);
  double squares = 0.0;
  for (const double v : logs) squares += (v - ratio.mean) * (v - ratio.mean);
  if (n > 1) ratio.standard_error = std::sqrt(squares / static_cast<double>(n - 1) / static_cast<double>(n));
  return ratio;
}

}  // namespace jigtrue
