#include "calibration/choose_model.hpp"

#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace jigtrue {

namespace {

constexpr std::size_t kMostFolds = 10;
// A fold's fit starts where the fit to all photos ended: what is left of its descent is far below any photo's error.
constexpr double kHeldOutDecrease = 1e-5;

struct Mean {
  double mean = 0.0;
  double standard_error = 0.0;
};
Mean mean_of(const std::vector<double>& values) {
  const double n = static_cast<double>(values.size());
  Mean result;
  for (const double v : values) result.mean += v / n;
  double squares = 0.0;
  for (const double v : values) squares += (v - result.mean) * (v - result.mean);
  if (values.size() > 1) result.standard_error = std::sqrt(squares / (n - 1.0) / n);
  return result;
}

std::vector<Vector2d> places_mm(const std::vector<SeenPoint>& points) {
  std::vector<Vector2d> mm;
  mm.reserve(points.size());
  for (const SeenPoint& p : points) mm.emplace_back(p.mm.head<2>());
  return mm;
}

std::vector<double> root_weights(const std::vector<SeenPoint>& points) {
  std::vector<double> root;
  root.reserve(points.size());
  for (const SeenPoint& p : points) root.push_back(1.0 / p.sigma_px);
  return root;
}

// Pose from the points on one side of a line, error on the others; sums are added to the view. sigma_px: 1 over the
// root of a point's weight, which scales its rows and its error alike.
bool foresee_half(const Lens& lens, const std::vector<SeenPoint>& points, const std::vector<char>& known,
                  const Rigid& start, double reach, HeldOutView& view) {
  std::vector<SeenPoint> half;
  std::vector<SeenPoint> rest;
  for (std::size_t i = 0; i < points.size(); ++i) (known[i] ? half : rest).push_back(points[i]);
  if (half.size() < 6 || rest.size() < 3) return true;
  const Outcome<ViewPose> pose = refine_pose(lens, half, start);
  if (!pose) return false;
  const std::optional<MatrixXd> inverse = inverse_spd(pose->normal);
  if (!inverse) return true;
  const std::vector<double> half_root = root_weights(half);
  const std::vector<double> rest_root = root_weights(rest);
  const auto count = static_cast<Eigen::Index>(rest.size());
  MatrixXd by_pose(2 * count, 6);
  for (Eigen::Index i = 0; i < count; ++i) {
    const SeenPoint& point = rest[static_cast<std::size_t>(i)];
    const double root = rest_root[static_cast<std::size_t>(i)];
    const Vector3d turned = pose->camera_from_body.rotation * point.mm;
    const std::optional<Projection> there = project_with_jacobian(lens, turned + pose->camera_from_body.translation);
    if (!there) return false;
    Eigen::Matrix<double, 2, 6> rows;
    rows << -there->by_point * cross_matrix(turned), there->by_point;
    by_pose.row(i) = root * rows.row(0);
    by_pose.row(count + i) = root * rows.row(1);
    view.mean_square_px2 += root * root * (point.px - there->px).squaredNorm();
    view.foreseen_px.push_back(there->px);
  }
  // error of the rest: its own corners' less what the half's move the pose by, G = by_pose inverse Q^T
  const std::vector<Vector2d> half_mm = places_mm(half);
  const std::vector<Vector2d> rest_mm = places_mm(rest);
  const MatrixXd answers = times(by_pose, *inverse);
  view.by_alone += 2.0 * static_cast<double>(count) + answers.cwiseProduct(by_pose).sum();
  MatrixXd q = pose->by_pose;
  for (Eigen::Index i = 0; i < q.rows(); ++i)
    q.row(i) *= half_root[static_cast<std::size_t>(i % static_cast<Eigen::Index>(half.size()))];
  const MatrixXd half_correlation = weighted(correlation(half_mm, half_mm, reach), half_root, half_root);
  const MatrixXd half_errors = transpose_times(q, both_axes(half_correlation, q));
  const MatrixXd rest_correlation = weighted(correlation(rest_mm, half_mm, reach), rest_root, half_root);
  const MatrixXd common = times(both_axes(rest_correlation, q), *inverse);
  for (const double root : rest_root) view.by_together += 2.0 * root * root;
  view.by_together +=
      times(answers, half_errors).cwiseProduct(answers).sum() - 2.0 * common.cwiseProduct(by_pose).sum();
  return true;
}

std::optional<HeldOutView> foresee_view(const Lens& lens, const bundle::View& seen, const Rigid& start) {
  std::vector<SeenPoint> points;
  for (std::size_t i = 0; i < seen.points.size(); ++i) {
    if (!seen.used[i]) continue;
    points.push_back(seen.points[i]);
    points.back().sigma_px = 1.0 / std::sqrt(seen.weight[i]);
  }
  if (points.empty()) return std::nullopt;
  const double reach = reach_mm(places_mm(points));
  HeldOutView view;
  for (const int axis : {0, 1}) {
    std::vector<double> position;
    position.reserve(points.size());
    for (const SeenPoint& p : points) position.push_back(p.mm[axis]);
    const auto [low, high] = std::minmax_element(position.begin(), position.end());
    const double middle = 0.5 * (*low + *high);
    for (const bool upper : {false, true}) {
      std::vector<char> known;
      known.reserve(position.size());
      for (const double p : position) known.push_back((p > middle) == upper ? char{1} : char{0});
      if (!foresee_half(lens, points, known, start, reach, view)) return std::nullopt;
    }
  }
  if (view.foreseen_px.empty()) return std::nullopt;
  const double n = static_cast<double>(view.foreseen_px.size());
  view.mean_square_px2 /= n;
  view.by_alone /= n;
  view.by_together /= n;
  return view;
}

double by_noise_px2(const HeldOutView& view, const CornerNoise& noise) {
  return noise.alone_px * noise.alone_px * view.by_alone + noise.together_px * noise.together_px * view.by_together;
}

template <class Value>
double root_mean(const std::vector<HeldOutView>& views, const Value& value) {
  double sum = 0.0;
  double count = 0.0;
  for (const HeldOutView& view : views) {
    if (view.foreseen_px.empty()) continue;
    sum += value(view);
    count += 1.0;
  }
  return std::sqrt(sum / count);
}

}  // namespace

double HeldOut::rms_px() const {
  return root_mean(views, [](const HeldOutView& v) { return v.mean_square_px2; });
}

double HeldOut::rms_by_noise_px(const CornerNoise& noise) const {
  return root_mean(views, [&](const HeldOutView& v) { return by_noise_px2(v, noise); });
}

double HeldOut::excess_px(const CornerNoise& noise) const {
  std::vector<double> ratios;
  for (const HeldOutView& view : views) {
    const double by_noise = by_noise_px2(view, noise);
    if (by_noise > 0.0) ratios.push_back(view.mean_square_px2 / by_noise);
  }
  const Mean ratio = mean_of(ratios);
  if (ratios.empty() || !(ratio.mean - 2.0 * ratio.standard_error > 1.0)) return 0.0;
  return std::sqrt(ratio.mean - 1.0) * rms_by_noise_px(noise);
}

Outcome<HeldOut> cross_validate(const ModelFit& fit, const std::vector<bundle::View>& views) {
  std::vector<std::size_t> posed;
  for (std::size_t i = 0; i < views.size(); ++i) {
    if (fit.has_pose[i] && views[i].used_count() > 0) posed.push_back(i);
  }
  const std::size_t folds = std::min(kMostFolds, posed.size());
  HeldOut held_out;
  held_out.views.resize(views.size());
  for (std::size_t fold = 0; fold < folds; ++fold) {
    std::vector<bundle::View> others = views;
    for (std::size_t k = fold; k < posed.size(); k += folds) {
      std::fill(others[posed[k]].used.begin(), others[posed[k]].used.end(), char{0});
    }
    const Outcome<ModelFit> trained = fit_model_plainly(fit, others, false, kHeldOutDecrease);
    if (!trained) return Failure{"with some photos left out, " + trained.reason()};
    const bundle::State& state = trained->state;
    const Lens lens = make_lens(state.model, state.width_px, state.height_px, state.lens);
    for (std::size_t k = fold; k < posed.size(); k += folds) {
      std::optional<HeldOutView> view = foresee_view(lens, views[posed[k]], fit.state.poses[posed[k]]);
      if (!view) return Failure{"with some photos left out, its map does not reach their corners"};
      held_out.views[posed[k]] = std::move(*view);
    }
  }
  if (posed.empty()) return Failure{"no photo to hold out"};
  return held_out;
}

LogRatio compare(const HeldOut& a, const HeldOut& b) {
  std::vector<double> logs;
  for (std::size_t i = 0; i < std::min(a.views.size(), b.views.size()); ++i) {
    if (a.views[i].foreseen_px.empty() || b.views[i].foreseen_px.empty()) continue;
    // exact data leave rounding only: 1e-9 px keeps its ratios from deciding anything
    logs.push_back(0.5 * std::log((a.views[i].mean_square_px2 + 1e-18) / (b.views[i].mean_square_px2 + 1e-18)));
  }
  const Mean mean = mean_of(logs);
  return {mean.mean, mean.standard_error};
}

double difference_px(const HeldOut& a, const HeldOut& b) {
  double sum = 0.0;
  double count = 0.0;
  for (std::size_t i = 0; i < std::min(a.views.size(), b.views.size()); ++i) {
    const std::vector<Vector2d>& one = a.views[i].foreseen_px;
    const std::vector<Vector2d>& two = b.views[i].foreseen_px;
    for (std::size_t j = 0; j < std::min(one.size(), two.size()); ++j) {
      sum += (one[j] - two[j]).squaredNorm();
      count += 1.0;
    }
  }
  return count > 0.0 ? std::sqrt(sum / count) : 0.0;
}

}  // namespace jigtrue
