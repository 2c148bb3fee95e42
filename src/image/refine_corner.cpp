#include "image/refine_corner.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "image/checker_model.hpp"
#include <Eigen/Dense>

namespace jigtrue::checker {
namespace {

using Normal = Eigen::Matrix<double, kParameters, kParameters>;

constexpr int kMaxIterations = 25;    // a fit that needs more is none
constexpr double kOffCentrePx = 0.3;  // a window laid within this is symmetric enough: the rim lies in flat fields
// Grey levels a px by which light, reflections and contrast change: the rim of a lamp's image, a standard deviation.
constexpr double kLightSigma = 2.0;
// Pixels within so much of an edge are all looked at: three of its blurs hold all of an edge, the rest allows for a
// start that is off.
constexpr double kNearPx = 2.5;
constexpr double kNearBlurs = 3.0;
constexpr double kMinBlurPx = 0.25;  // a pixel's own area blurs by 0.29 px

struct Window {
  std::vector<Pixel> pixels;
  int columns = 0, rows = 0;
};

// All pixels near the two edges; of the flat fields, which say nothing of the place, every ninth.
bool cut_window(const cv::Mat1b& luma, const Parameters& p, const Matrix2d& half_axes, Window& window) {
  const Vector2d centre(p[kX], p[kY]);
  const Matrix2d unit_from_px = half_axes.inverse();
  const double reach_x = half_axes.row(0).norm();
  const double reach_y = half_axes.row(1).norm();
  const int left = static_cast<int>(std::ceil(centre.x() - reach_x));
  const int right = static_cast<int>(std::floor(centre.x() + reach_x));
  const int top = static_cast<int>(std::ceil(centre.y() - reach_y));
  const int bottom = static_cast<int>(std::floor(centre.y() + reach_y));
  if (left < 0 || top < 0 || right >= luma.cols || bottom >= luma.rows) return false;
  window.columns = right - left + 1;
  window.rows = bottom - top + 1;
  window.pixels.clear();
  const Vector2d normal_a(-std::sin(p[kAngleA]), std::cos(p[kAngleA]));
  const Vector2d normal_b(-std::sin(p[kAngleB]), std::cos(p[kAngleB]));
  const double near_a = kNearPx + kNearBlurs * p[kBlurA];
  const double near_b = kNearPx + kNearBlurs * p[kBlurB];
  for (int y = top; y <= bottom; ++y) {
    const auto* line = luma.ptr<unsigned char>(y);
    for (int x = left; x <= right; ++x) {
      const Vector2d v(x - centre.x(), y - centre.y());
      if ((unit_from_px * v).squaredNorm() > 1.0) continue;
      const bool flat = std::abs(normal_a.dot(v)) > near_a && std::abs(normal_b.dot(v)) > near_b;
      if (flat && (x % 3 != 0 || y % 3 != 0)) continue;
      window.pixels.push_back(
          {static_cast<double>(x), static_cast<double>(y), static_cast<double>(line[x]), x - left, y - top});
    }
  }
  return true;
}

// What is to be fitted: grey levels, their weights (empty: all 1), and what is known of the edges' curvature.
struct Problem {
  Window window;
  std::vector<double> weights;
  double bend_a = 0.0, bend_b = 0.0;
  double bend_sigma = 0.0;  // 0: known exactly
  double grey_variance = 25.0;

  [[nodiscard]] bool free_bends() const { return bend_sigma > 0.0; }
  [[nodiscard]] int unknowns() const { return free_bends() ? kParameters : kBendA; }
  [[nodiscard]] double weight(std::size_t i) const { return weights.empty() ? 1.0 : weights[i]; }
  [[nodiscard]] double light_precision() const { return grey_variance / (kLightSigma * kLightSigma); }
  [[nodiscard]] double bend_precision() const { return free_bends() ? grey_variance / (bend_sigma * bend_sigma) : 1.0; }
};

struct Equations {
  Normal normal = Normal::Zero();
  Parameters right = Parameters::Zero();
  double cost = 0.0;
};

// weight * g g^T: its lower triangle, of the first N parameters.
template <int N, int Column = 0>
void add_products(const Parameters& g, double weight, Normal& normal) {
  if constexpr (Column < N) {
    constexpr int kFrom = Column & ~1;  // columns two by two
    normal.template block<N - kFrom, 1>(kFrom, Column) += (weight * g[Column]) * g.template segment<N - kFrom>(kFrom);
    add_products<N, Column + 1>(g, weight, normal);
  }
}

Equations accumulate(const Problem& problem, const Parameters& p) {
  const Model model(p);
  Equations equations;
  Parameters gradient;
  for (std::size_t i = 0; i < problem.window.pixels.size(); ++i) {
    const Pixel& pixel = problem.window.pixels[i];
    const double residual = model.residual(pixel, gradient);
    const double weight = problem.weight(i);
    equations.cost += weight * residual * residual;
    equations.right += gradient * (weight * residual);
    if (problem.free_bends())
      add_products<kParameters>(gradient, weight, equations.normal);
    else
      add_products<kBendA>(gradient, weight, equations.normal);
  }
  equations.normal.triangularView<Eigen::StrictlyUpper>() = equations.normal.transpose();
  // light changes slowly: a window of few pixels would take an edge for its change
  equations.cost += problem.light_precision() * p.segment<4>(kContrastX).squaredNorm();
  equations.right.segment<4>(kContrastX) -= problem.light_precision() * p.segment<4>(kContrastX);
  equations.normal.diagonal().segment<4>(kContrastX).array() += problem.light_precision();
  for (const auto& [bend, known] : {std::pair{kBendA, problem.bend_a}, std::pair{kBendB, problem.bend_b}}) {
    if (problem.free_bends()) {
      const double off = known - p[bend];
      equations.cost += problem.bend_precision() * off * off;
      equations.right[bend] += problem.bend_precision() * off;
    } else {
      equations.right[bend] = 0.0;
    }
    equations.normal(bend, bend) += problem.bend_precision();
  }
  return equations;
}

// Levels and contrast from the four quadrants, away from the edges.
void start_levels(const Window& window, Parameters& p) {
  double sum[2] = {0.0, 0.0};
  int count[2] = {0, 0};
  for (const Pixel& pixel : window.pixels) {
    const double vx = pixel.x - p[kX];
    const double vy = pixel.y - p[kY];
    const double across_a = -std::sin(p[kAngleA]) * vx + std::cos(p[kAngleA]) * vy;
    const double across_b = -std::sin(p[kAngleB]) * vx + std::cos(p[kAngleB]) * vy;
    const int side = across_a * across_b > 0.0 ? 1 : 0;
    sum[side] += pixel.grey;
    ++count[side];
  }
  const double plus = sum[1] / std::max(1, count[1]);
  const double minus = sum[0] / std::max(1, count[0]);
  p[kLevel] = 0.5 * (plus + minus);
  p[kContrast] = 0.5 * (plus - minus);
}

std::vector<double> residuals(const Window& window, const Parameters& p) {
  const Model model(p);
  std::vector<double> list;
  list.reserve(window.pixels.size());
  Parameters gradient;
  for (const Pixel& pixel : window.pixels) list.push_back(model.residual(pixel, gradient));
  return list;
}

// Tukey's weights on the residuals, scale from their median: dirt loses its say altogether. Edges are noisier than flat
// fields (compression, sampling), so what is off by less than half the contrast's half keeps most of its say.
std::vector<double> tukey_weights(std::vector<double> list, double contrast) {
  for (double& r : list) r = std::abs(r);
  std::vector<double> sorted = list;
  const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
  std::nth_element(sorted.begin(), middle, sorted.end());
  // 4.685: 95 % efficiency (Tukey; textbook)
  const double cut = std::max({4.685, 4.685 * kSigmaOfMad * *middle, 0.5 * std::abs(contrast)});
  for (double& r : list) {
    const double share = r / cut;
    r = share < 1.0 ? (1.0 - share * share) * (1.0 - share * share) : 0.0;
  }
  return list;
}

// Levenberg-Marquardt; the normal matrix once a step moves the centre by less than settled_px and changes the fit by
// next to nothing: a centre found at once, by symmetry, says nothing of the blur.
std::optional<Normal> minimise(const Problem& problem, double settled_px, Parameters& p) {
  constexpr double kLittleChange = 1e-3;  // of the cost: the last step
  constexpr double kHarmlessCost =
      1e-3;  // grey levels squared a pixel: rounding to whole levels leaves eighty times that
  const auto pixels = static_cast<double>(problem.window.pixels.size());
  double damping = 1e-4;
  Equations now = accumulate(problem, p);
  for (int iteration = 0; iteration < kMaxIterations && damping < 1e8; ++iteration) {
    Normal damped = now.normal;
    damped.diagonal() *= 1.0 + damping;
    damped.diagonal().array() += 1e-9;
    Parameters step = damped.ldlt().solve(now.right);
    // an edge as sharp as it can be stays so while the others move
    for (const int blur : {kBlurA, kBlurB}) {
      if (p[blur] > kMinBlurPx || step[blur] >= 0.0) continue;
      damped.row(blur).setZero();
      damped.col(blur).setZero();
      damped(blur, blur) = 1.0;
      now.right[blur] = 0.0;
      step = damped.ldlt().solve(now.right);
    }
    const bool small = step.head<2>().norm() < settled_px;
    Parameters next = p + step;
    next[kBlurA] = std::max(next[kBlurA], kMinBlurPx);
    next[kBlurB] = std::max(next[kBlurB], kMinBlurPx);
    if (!next.allFinite()) {
      damping *= 10.0;
      continue;
    }
    // what the step would change, as the equations foresee it
    if (small && step.dot(now.right) <= kLittleChange * now.cost + kHarmlessCost * pixels) {
      p = next;
      return now.normal;
    }
    const Equations then = accumulate(problem, next);
    if (then.cost <= now.cost) {
      p = next;
      now = then;
      damping = std::max(1e-9, damping * 0.1);
    } else {
      damping *= 10.0;
    }
  }
  return std::nullopt;
}

// The centre's variance from the fit. Each pixel moves the centre by u = (J'WJ)^-1 J'w r; independent pixels add their
// squares, neighbours with common noise add their products too (a sandwich estimate, lags up to two pixels).
void add_variance(const Problem& problem, const Parameters& p, const Normal& normal, CheckerFit& fit) {
  constexpr int kLag = 2;  // pixels: demosaicing and sharpening reach that far
  const Window& window = problem.window;
  const Model model(p);
  const Normal inverse = normal.ldlt().solve(Normal::Identity());
  const int columns = window.columns + 2 * kLag;
  const auto cell = [columns](int column, int row) {
    return static_cast<std::size_t>(row + kLag) * static_cast<std::size_t>(columns) +
           static_cast<std::size_t>(column + kLag);
  };
  std::vector<Vector2d> moves(cell(-kLag, window.rows + kLag), Vector2d::Zero());
  Parameters gradient;
  double squares = 0.0;
  double weight_sum = 0.0;
  int kept = 0;
  for (std::size_t i = 0; i < window.pixels.size(); ++i) {
    const Pixel& pixel = window.pixels[i];
    const double weight = problem.weight(i);
    const double residual = model.residual(pixel, gradient);
    if (!problem.free_bends()) gradient[kBendA] = gradient[kBendB] = 0.0;
    moves[cell(pixel.column, pixel.row)] = inverse.topRows<2>() * gradient * (weight * residual);
    squares += weight * residual * residual;
    weight_sum += weight;
    if (weight > 0.5) ++kept;
  }
  const double freedom = std::max(1.0, weight_sum - static_cast<double>(problem.unknowns()));
  fit.residual_rms = std::sqrt(squares / freedom);
  fit.share_kept = static_cast<double>(kept) / static_cast<double>(window.pixels.size());
  const double correction = weight_sum / freedom;
  for (const Pixel& pixel : window.pixels) {
    const Vector2d& move = moves[cell(pixel.column, pixel.row)];
    fit.white_variance += 0.5 * correction * move.squaredNorm();
    Vector2d neighbours = -move;
    for (int dy = -kLag; dy <= kLag; ++dy)
      for (int dx = -kLag; dx <= kLag; ++dx) neighbours += moves[cell(pixel.column + dx, pixel.row + dy)];
    fit.lagged_variance += 0.5 * correction * move.dot(neighbours);
  }
  const double pull = problem.bend_precision() * problem.bend_sigma;
  fit.white_variance += 0.5 * pull * pull * inverse.block<2, 2>(kX, kBendA).squaredNorm();
}

Parameters starting_values(const CheckerStart& start) {
  Parameters p = Parameters::Zero();
  p[kX] = start.px.x();
  p[kY] = start.px.y();
  p[kAngleA] = std::atan2(start.edge_a.y(), start.edge_a.x());
  p[kAngleB] = std::atan2(start.edge_b.y(), start.edge_b.x());
  p[kBlurA] = p[kBlurB] = start.blur_px;
  p[kBendA] = start.curvature_a;
  p[kBendB] = start.curvature_b;
  if (start.before == nullptr) return p;
  const CheckerFit& before = *start.before;
  p[kAngleA] = std::atan2(before.edge_a.y(), before.edge_a.x());
  p[kAngleB] = std::atan2(before.edge_b.y(), before.edge_b.x());
  p[kBlurA] = std::max(before.blur_a_px, kMinBlurPx);
  p[kBlurB] = std::max(before.blur_b_px, kMinBlurPx);
  p[kContrast] = before.contrast;
  p[kLevel] = before.level;
  p.segment<2>(kLevelX) = before.light;
  return p;
}

double mean_square(const std::vector<double>& list) {
  double sum = 0.0;
  for (const double r : list) sum += r * r;
  return sum / static_cast<double>(list.size());
}

CheckerFit describe_fit(const Parameters& p) {
  CheckerFit fit;
  fit.px = {p[kX], p[kY]};
  fit.edge_a = {std::cos(p[kAngleA]), std::sin(p[kAngleA])};
  fit.edge_b = {std::cos(p[kAngleB]), std::sin(p[kAngleB])};
  fit.contrast = p[kContrast];
  fit.level = p[kLevel];
  fit.light = {p[kLevelX], p[kLevelY]};
  fit.blur_a_px = p[kBlurA];
  fit.blur_b_px = p[kBlurB];
  return fit;
}

}  // namespace
}  // namespace jigtrue::checker

namespace jigtrue {

Outcome<CheckerFit> refine_corner(const cv::Mat1b& luma, const CheckerStart& start) {
  using namespace checker;
  Problem problem;
  problem.bend_a = start.curvature_a;
  problem.bend_b = start.curvature_b;
  problem.bend_sigma = start.curvature_sigma;
  Parameters p = starting_values(start);
  if (!cut_window(luma, p, start.window_px, problem.window))
    return Failure{"the corner lies too near the picture's border"};
  // Some pixels to spare over the unknowns, or the residuals say nothing.
  if (problem.window.pixels.size() < 2 * static_cast<std::size_t>(problem.unknowns()))
    return Failure{"the squares are too small in the photo"};
  if (start.before == nullptr) start_levels(problem.window, p);

  const int rounds = start.robust ? 5 : 2;
  Vector2d laid_about = start.px;
  std::optional<Normal> settled;
  for (int round = 0; round < rounds; ++round) {
    settled = minimise(problem, start.settled_px, p);
    const Vector2d centre(p[kX], p[kY]);
    if (!centre.allFinite() || (start.window_px.inverse() * (centre - start.px)).squaredNorm() > 1.0)
      return Failure{"the fit ran away from the corner"};
    if (round + 1 == rounds && !settled) return Failure{"the corner's fit does not settle"};
    // The window is laid anew about the centre found: its symmetry is what keeps the model's faults from biasing it.
    const bool moved = (centre - laid_about).norm() > kOffCentrePx;
    if (moved && round + 1 < rounds) {
      if (!cut_window(luma, p, start.window_px, problem.window))
        return Failure{"the corner lies too near the picture's border"};
      laid_about = centre;
      problem.weights.clear();
    } else if (settled && !start.robust) {
      break;
    }
    const std::vector<double> rest = residuals(problem.window, p);
    problem.grey_variance = std::max(0.5, mean_square(rest));
    if (start.robust && round + 1 < rounds) problem.weights = tukey_weights(rest, p[kContrast]);
  }
  CheckerFit fit = describe_fit(p);
  add_variance(problem, p, *settled, fit);
  if (!std::isfinite(fit.white_variance)) return Failure{"the corner's fit does not settle"};
  return fit;
}

}  // namespace jigtrue
