#include "calibration/choose_model.hpp"

#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace jigtrue {

namespace {

constexpr std::size_t kMostFolds = 10;  // tenfold: Kohavi, IJCAI 1995
// A fold's fit starts where the fit to all photos ended: what is left of its descent is far below any photo's error.
constexpr double kHeldOutDecrease = 1e-5;
// A step that lowers the sum of squares by no more moves the corners by a tenth of their errors: what it does not
// foresee, of the second order, is a hundredth.
constexpr double kSmallDecrease = 0.01;

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
bool foresee_half(const Lens& lens, const std::vector<int>& free_lens, const std::vector<SeenPoint>& points,
                  const std::vector<char>& known, const Rigid& start, double reach, HeldOutView& view) {
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
  const MatrixXd pose_by_lens = -times(*inverse, pose->by_lens_normal);
  MatrixXd by_lens(2 * count, static_cast<Eigen::Index>(free_lens.size()));
  for (Eigen::Index i = 0; i < count; ++i) {
    const SeenPoint& point = rest[static_cast<std::size_t>(i)];
    const double root = rest_root[static_cast<std::size_t>(i)];
    const Vector3d turned = pose->camera_from_body.rotation * point.mm;
    const std::optional<Projection> there =
        project_with_jacobian(lens, turned + pose->camera_from_body.translation, LensJacobian::yes);
    if (!there) return false;
    Eigen::Matrix<double, 2, 6> rows;
    rows << -there->by_point * cross_matrix(turned), there->by_point;
    by_pose.row(i) = root * rows.row(0);
    by_pose.row(count + i) = root * rows.row(1);
    const LensJacobian2 moved = there->by_parameters + rows * pose_by_lens;
    for (std::size_t k = 0; k < free_lens.size(); ++k)
      by_lens.block<2, 1>(2 * i, static_cast<Eigen::Index>(k)) = moved.col(free_lens[k]);
    view.mean_square_px2 += root * root * (point.px - there->px).squaredNorm();
    view.foreseen_px.push_back(there->px);
  }
  view.by_lens += transpose_times(by_lens, by_lens);
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

std::optional<HeldOutView> foresee_view(const Lens& lens, const std::vector<int>& free_lens, const bundle::View& seen,
                                        const Rigid& start) {
  std::vector<SeenPoint> points;
  for (std::size_t i = 0; i < seen.points.size(); ++i) {
    if (!seen.used[i]) continue;
    points.push_back(seen.points[i]);
    points.back().sigma_px = 1.0 / std::sqrt(seen.weight[i]);
  }
  if (points.empty()) return std::nullopt;
  const double reach = reach_mm(places_mm(points));
  HeldOutView view;
  const auto parameters = static_cast<Eigen::Index>(free_lens.size());
  view.by_lens = MatrixXd::Zero(parameters, parameters);
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
      if (!foresee_half(lens, free_lens, points, known, start, reach, view)) return std::nullopt;
    }
  }
  if (view.foreseen_px.empty()) return std::nullopt;
  const double n = static_cast<double>(view.foreseen_px.size());
  view.mean_square_px2 /= n;
  view.by_alone /= n;
  view.by_together /= n;
  return view;
}

using Fold = std::vector<std::size_t>;  // the views that are left out together

std::vector<bundle::View> with_only(std::vector<bundle::View> views, const Fold& fold, bool kept) {
  for (std::size_t i = 0; i < views.size(); ++i)
    if ((std::find(fold.begin(), fold.end(), i) != fold.end()) != kept)
      std::fill(views[i].used.begin(), views[i].used.end(), char{0});
  return views;
}

// The normal equations at the fit to all views, a fold's share apart: the fit without it is one step away.
class FoldEquations {
 public:
  FoldEquations(const ModelFit& fit, const std::vector<bundle::View>& views, const std::vector<Fold>& folds) {
    bundle::Settings settings;
    settings.free_lens = fit.free_lens;
    const auto of = [&](const Fold& fold) {
      return bundle::linearise(fit.state, with_only(views, fold, true), settings);
    };
    whole_ = of({});
    if (!whole_) return;
    expected_ = *whole_;
    folds_.reserve(folds.size());
    for (const Fold& fold : folds) {
      std::optional<ArrowSystem> own = of(fold);
      if (own) add(*whole_, *own, 1.0);
      folds_.push_back(std::move(own));
    }
  }
  // Of the lens's free parameters, from corners that err alone by 1 px.
  [[nodiscard]] std::optional<MatrixXd> covariance() const { return whole_ ? inverse_shared(*whole_) : std::nullopt; }
  // The lens's step without that fold; nothing where a single step does not tell.
  [[nodiscard]] std::optional<VectorXd> step_without(std::size_t fold) const {
    if (!whole_) return std::nullopt;
    const std::optional<ArrowSystem>& own = folds_[fold];
    if (!own) return std::nullopt;
    ArrowSystem others = *whole_;
    add(others, *own, -1.0);
    const std::optional<ArrowStep> step = solve_damped(others, 0.0);
    if (!step || !(step->predicted_decrease <= kSmallDecrease * others.cost)) return std::nullopt;
    return step->shared;
  }

 private:
  // what is expected beforehand is part of every fold's equations, and counts once
  void add(ArrowSystem& to, const ArrowSystem& fold, double sign) const {
    to.shared += sign * (fold.shared - expected_.shared);
    to.shared_gradient += sign * (fold.shared_gradient - expected_.shared_gradient);
    to.cost += sign * (fold.cost - expected_.cost);
    for (std::size_t i = 0; i < to.blocks.size(); ++i) {
      to.blocks[i].own += sign * fold.blocks[i].own;
      to.blocks[i].cross += sign * fold.blocks[i].cross;
      to.blocks[i].gradient += sign * fold.blocks[i].gradient;
    }
  }

  std::optional<ArrowSystem> whole_;
  ArrowSystem expected_{0, 0, 0};
  std::vector<std::optional<ArrowSystem>> folds_;
};

// The lens fitted to all views but a fold's.
Outcome<Lens> lens_without(const ModelFit& fit, const std::vector<bundle::View>& views, const Fold& fold,
                           const std::optional<VectorXd>& step) {
  const bundle::State& state = fit.state;
  if (step) {
    VectorXd parameters = state.lens;
    for (std::size_t k = 0; k < fit.free_lens.size(); ++k)
      parameters[fit.free_lens[k]] += (*step)[static_cast<Eigen::Index>(k)];
    Outcome<Lens> lens = try_make_lens(state.model, state.width_px, state.height_px, parameters);
    if (lens && reaches(*lens, fit.farthest_rad)) return lens;
  }
  const Outcome<ModelFit> trained = fit_model_plainly(fit, with_only(views, fold, false), false, kHeldOutDecrease);
  if (!trained) return trained.failure();
  return make_lens(state.model, state.width_px, state.height_px, trained->state.lens);
}

// Mean square of the distance by which the corners foreseen move with a lens of that covariance.
double moved_by_lens(const std::vector<HeldOutView>& views, const MatrixXd& covariance) {
  double squares = 0.0;
  double count = 0.0;
  for (const HeldOutView& view : views) {
    if (view.foreseen_px.empty()) continue;
    squares += covariance.cwiseProduct(view.by_lens).sum();
    count += static_cast<double>(view.foreseen_px.size());
  }
  return count > 0.0 ? squares / count : 0.0;
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
  if (posed.empty()) return Failure{"no photo to hold out"};
  const std::size_t count = std::min(kMostFolds, posed.size());
  std::vector<Fold> folds(count);
  for (std::size_t k = 0; k < posed.size(); ++k) folds[k % count].push_back(posed[k]);
  const FoldEquations equations(fit, views, folds);
  HeldOut held_out;
  held_out.views.resize(views.size());
  for (std::size_t i = 0; i < count; ++i) {
    const Outcome<Lens> lens = lens_without(fit, views, folds[i], equations.step_without(i));
    if (!lens) return Failure{"with some photos left out, " + lens.reason()};
    for (const std::size_t k : folds[i]) {
      std::optional<HeldOutView> view = foresee_view(*lens, fit.free_lens, views[k], fit.state.poses[k]);
      if (!view) return Failure{"with some photos left out, its map does not reach their corners"};
      held_out.views[k] = std::move(*view);
    }
  }
  if (const std::optional<MatrixXd> covariance = equations.covariance())
    held_out.through_lens = moved_by_lens(held_out.views, *covariance);
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

double difference_px(const HeldOut& a, const HeldOut& b, double noise_px) {
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
  const double by_noise = noise_px * noise_px * std::abs(a.through_lens - b.through_lens);
  return count > 0.0 ? std::sqrt(std::max(0.0, sum / count - by_noise)) : 0.0;
}

}  // namespace jigtrue
