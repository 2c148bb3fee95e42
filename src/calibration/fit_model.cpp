#include "calibration/fit_model.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace jigtrue {

namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();  // no fit
// Phone, webcam and wide lenses lie between 0.2 (150 degrees across) and 4 (a long tele) picture widths of focal
// length.
constexpr double kShortestFocal = 0.2;
constexpr double kLongestFocal = 4.0;
constexpr double kFocalStep = 1.2;
constexpr std::size_t kStartsTried = 2;
constexpr double kSettledScore_px = 0.5;  // no wrong valley fits all photos so well
constexpr int kPoseIterations = 12;       // enough to compare starts; the poses are refined with the lens later
// A Cauchy scale of twice the median distance: good corners keep four fifths of their weight and more.
constexpr double kCauchyPerMedian = 2.0;
constexpr double kSmallestCauchy_px = 0.02;
// Robust stages only lead into the right valley and show what lies far out; the plain fit goes to its floor.
constexpr double kRoughly = 1e-5;

VectorXd plain_parameters(LensModel model, double focal_px, int width_px, int height_px) {
  VectorXd p = VectorXd::Zero(4 + distortion_count(model));
  p.head<4>() << focal_px, focal_px, 0.5 * (width_px - 1), 0.5 * (height_px - 1);
  return p;
}

std::vector<SeenPoint> used_points(const bundle::View& view) {
  std::vector<SeenPoint> points;
  for (std::size_t i = 0; i < view.points.size(); ++i) {
    if (view.used[i]) points.push_back(view.points[i]);
  }
  return points;
}

// A pose for each view that has none yet; returns the median over the views of their rms.
double pose_views(ModelFit& fit, const std::vector<bundle::View>& views) {
  const Outcome<Lens> lens = try_make_lens(fit.state.model, fit.state.width_px, fit.state.height_px, fit.state.lens);
  if (!lens) return kInfinity;
  std::vector<double> rms;
  for (std::size_t i = 0; i < views.size(); ++i) {
    if (fit.has_pose[i]) continue;
    const std::vector<SeenPoint> points = used_points(views[i]);
    const Outcome<Rigid> first = plane_pose_from_rays(*lens, points);
    const Outcome<ViewPose> pose =
        first ? refine_pose(*lens, points, *first, 0.0, kPoseIterations) : Outcome<ViewPose>(first.failure());
    rms.push_back(pose ? pose->rms_px : kInfinity);
    if (!pose) continue;
    fit.has_pose[i] = 1;
    fit.state.poses[i] = pose->camera_from_body;
  }
  return median_or_infinity(rms);
}

// Enough of the views to compare starts on, from all of the set.
std::vector<bundle::View> some_of(const std::vector<bundle::View>& views) {
  constexpr std::size_t kViewsCompared = 7;  // enough to tell a good start from a bad one
  const std::size_t step = (views.size() + kViewsCompared - 1) / kViewsCompared;
  std::vector<bundle::View> some;
  for (std::size_t i = 0; i < views.size(); i += std::max<std::size_t>(step, 1)) some.push_back(views[i]);
  return some;
}

std::vector<bundle::View> posed_views(const ModelFit& fit, const std::vector<bundle::View>& views) {
  std::vector<bundle::View> posed = views;
  for (std::size_t i = 0; i < posed.size(); ++i) {
    if (!fit.has_pose[i]) std::fill(posed[i].used.begin(), posed[i].used.end(), char{0});
  }
  return posed;
}

double robust_scale(ModelFit& fit, const std::vector<bundle::View>& views) {
  measure_distances(fit, views);
  std::vector<double> medians;
  for (const double m : fit.view_median_px) {
    if (std::isfinite(m)) medians.push_back(m);
  }
  return medians.empty() ? 1.0 : std::max(kSmallestCauchy_px, kCauchyPerMedian * median_or_infinity(medians));
}

// All free parameters at once, twice: poses that the first round makes possible take part in the second.
void refine_all(ModelFit& fit, const std::vector<bundle::View>& views) {
  for (int round = 0; round < 2; ++round) {
    pose_views(fit, views);
    bundle::Settings settings;
    settings.free_lens = fit.free_lens;
    settings.cauchy_px = robust_scale(fit, views);
    settings.relative_decrease = kRoughly;
    (void)bundle::solve(fit.state, posed_views(fit, views), settings);
  }
  measure_distances(fit, views);
}

// Focal length first, then the principal point, then everything: each stage starts near its own valley's floor.
void refine_in_stages(ModelFit& fit, const std::vector<bundle::View>& views) {
  const std::vector<std::vector<int>> stages = {
      {0, 1}, {0, 1, 4}, {0, 1, 2, 3, 4, 5}, bundle::all_lens_parameters(fit.state.model)};
  for (const std::vector<int>& stage : stages) {
    pose_views(fit, views);
    bundle::Settings settings;
    for (const int parameter : stage) {
      if (std::find(fit.free_lens.begin(), fit.free_lens.end(), parameter) != fit.free_lens.end()) {
        settings.free_lens.push_back(parameter);
      }
    }
    settings.cauchy_px = robust_scale(fit, views);
    settings.max_iterations = 40;
    settings.relative_decrease = kRoughly;
    (void)bundle::solve(fit.state, posed_views(fit, views), settings);
  }
  refine_all(fit, views);
}

double farthest_corner_rad(const bundle::State& state, const std::vector<bundle::View>& posed) {
  double farthest = 0.0;
  for (std::size_t i = 0; i < posed.size(); ++i) {
    for (std::size_t j = 0; j < posed[i].points.size(); ++j) {
      if (!posed[i].used[j]) continue;
      const Vector3d& mm = posed[i].points[j].mm;
      const Vector3d p =
          state.poses[i] * (posed[i].whole ? bundle::shaped_point(state.board, posed[i].points, mm) : mm);
      farthest = std::max(farthest, std::atan2(p.head<2>().norm(), p.z()));
    }
  }
  return farthest;
}

}  // namespace

bool reaches(const Lens& lens, double angle_rad) { return angle_rad <= 0.995 * lens.max_theta_rad; }

double median_or_infinity(std::vector<double> values) { return median(std::move(values)).value_or(kInfinity); }

void pose_left_out(ModelFit& fit, const std::vector<bundle::View>& views) {
  const Outcome<Lens> lens = try_make_lens(fit.state.model, fit.state.width_px, fit.state.height_px, fit.state.lens);
  for (std::size_t i = 0; i < views.size(); ++i) {
    if (!lens || views[i].used_count() > 0) continue;
    const Outcome<Rigid> first = plane_pose_from_rays(*lens, views[i].points);
    const Outcome<ViewPose> pose =
        first ? refine_pose(*lens, views[i].points, *first) : Outcome<ViewPose>(first.failure());
    fit.has_pose[i] = pose ? 1 : 0;
    if (pose) fit.state.poses[i] = pose->camera_from_body;
  }
  measure_distances(fit, views);
}

void measure_distances(ModelFit& fit, const std::vector<bundle::View>& views) {
  fit.distance_px.assign(views.size(), {});
  fit.view_median_px.assign(views.size(), kInfinity);
  const Outcome<Lens> lens = try_make_lens(fit.state.model, fit.state.width_px, fit.state.height_px, fit.state.lens);
  for (std::size_t i = 0; i < views.size(); ++i) {
    if (!lens || !fit.has_pose[i]) {
      fit.distance_px[i].assign(views[i].points.size(), kInfinity);
      continue;
    }
    for (const Vector2d& r : bundle::residuals_px(fit.state, *lens, views[i], i))
      fit.distance_px[i].push_back(r.norm());
    fit.view_median_px[i] = median_or_infinity(fit.distance_px[i]);
  }
}

Outcome<ModelFit> fit_model_robustly(LensModel model, const std::vector<int>& free_lens,
                                     const std::vector<bundle::View>& views, int width_px, int height_px,
                                     const ModelFit* leaner, const ModelFit* other) {
  if (leaner != nullptr && median_or_infinity(leaner->view_median_px) < kSettledScore_px) {
    ModelFit fit = *leaner;
    fit.state.model = model;
    fit.free_lens = free_lens;
    fit.state.lens = VectorXd::Zero(4 + distortion_count(model));
    fit.state.lens.head(leaner->state.lens.size()) = leaner->state.lens;
    refine_all(fit, views);
    return fit;
  }
  if (other != nullptr && median_or_infinity(other->view_median_px) < kSettledScore_px) {
    ModelFit fit = *other;
    fit.state.model = model;
    fit.free_lens = free_lens;
    fit.state.lens = VectorXd::Zero(4 + distortion_count(model));
    fit.state.lens.head<4>() = other->state.lens.head<4>();
    refine_in_stages(fit, views);
    if (median_or_infinity(fit.view_median_px) < kSettledScore_px) return fit;
  }
  struct Start {
    double score;
    ModelFit fit;
  };
  std::vector<Start> starts;
  const double longer = std::max(width_px, height_px);
  const std::vector<bundle::View> some = some_of(views);
  for (double f = kShortestFocal; f <= kLongestFocal; f *= kFocalStep) {
    ModelFit fit;
    fit.state = {model, width_px, height_px, plain_parameters(model, f * longer, width_px, height_px), {}, {}};
    fit.free_lens = free_lens;
    fit.state.poses.resize(views.size());
    fit.has_pose.assign(views.size(), 0);
    const double score = pose_views(fit, some);
    fit.has_pose.assign(views.size(), 0);  // those were of other views
    if (std::isfinite(score)) starts.push_back({score, std::move(fit)});
  }
  std::stable_sort(starts.begin(), starts.end(), [](const Start& a, const Start& b) { return a.score < b.score; });
  if (starts.size() > kStartsTried) starts.resize(kStartsTried);
  std::optional<ModelFit> best;
  double best_score = kInfinity;
  for (Start& start : starts) {
    if (best_score < kSettledScore_px) break;
    refine_in_stages(start.fit, views);
    const double score = median_or_infinity(start.fit.view_median_px);
    // a later start must be clearly better: equal ends differ by rounding only
    if (score < best_score * (1.0 - 1e-6)) {
      best_score = score;
      best = std::move(start.fit);
    }
  }
  if (!best) return Failure{"no starting value leads to a fit"};
  return *best;
}

Outcome<ModelFit> fit_model_plainly(const ModelFit& start, const std::vector<bundle::View>& views, bool fit_board_shape,
                                    double relative_decrease) {
  ModelFit fit = start;
  const std::vector<bundle::View> posed = posed_views(fit, views);
  bundle::Settings settings;
  settings.free_lens = fit.free_lens;
  settings.max_iterations = 200;
  settings.relative_decrease = relative_decrease;
  LeastSquaresSummary summary = bundle::solve(fit.state, posed, settings);
  if (fit_board_shape && summary.reason != StopReason::not_allowed) {
    settings.free_board = true;
    summary = bundle::solve(fit.state, posed, settings);
  }
  if (summary.reason == StopReason::not_allowed || summary.reason == StopReason::stuck) {
    return Failure{"its map would have to fold inside the picture's used part"};
  }
  measure_distances(fit, views);
  const Lens lens = make_lens(fit.state.model, fit.state.width_px, fit.state.height_px, fit.state.lens);
  fit.farthest_rad = farthest_corner_rad(fit.state, posed);
  if (!reaches(lens, fit.farthest_rad)) return Failure{"its map turns over at the farthest corner that was used"};
  return fit;
}

}  // namespace jigtrue
