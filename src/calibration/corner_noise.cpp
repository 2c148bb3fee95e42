#include "calibration/corner_noise.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

namespace jigtrue {

namespace {

// With so few corners, or so small a board, that the two forms say nearly the same, no corner counts as erring with
// another.
constexpr double kTooAlike = 0.98;
constexpr double kBeyondChance = 2.0;  // standard deviations
// Variance that corners err together over what they err alone: 0.00 +/- 0.02 on three sets of boards traced flat and
// evenly lit, 0.9 to 2.3 on five of printed sheets in hand, which show it beyond doubt. Where little shows, the former
// is usual.
constexpr double kUsualTogether = 0.02;

double trace_of_product(const MatrixView& a, const MatrixView& b) { return a.cwiseProduct(b.transpose()).sum(); }

// A photo once its pose has taken up what it can.
struct Reduced {
  MatrixXd pose;     // orthonormal basis of what the pose takes up
  MatrixXd shared;   // d px / d shared, the pose following
  MatrixXd kin;      // correlation of the corners, weighted
  MatrixXd between;  // the same between different corners only: no diagonal
  MatrixXd alone;    // variances of what corners err alone, as ratios to the mean one's: diagonal
  VectorXd residual_px;
};

Reduced reduce(const FittedView& view) {
  Reduced r;
  r.pose = orthonormal_basis(view.by_pose);
  r.shared = view.by_shared - times(r.pose, transpose_times(r.pose, view.by_shared));
  r.kin = weighted(correlation(view.mm, view.mm, reach_mm(view.mm)), view.root_weight, view.root_weight);
  r.between = r.kin;
  r.between.diagonal().setZero();
  // each as its own residual says, what the pose has taken up given back evenly: weights foresee it only roughly
  const Eigen::Index n = r.kin.rows();
  const VectorXd squares = view.residual_px.cwiseAbs2();
  const double taken_up = static_cast<double>(2 * n) / static_cast<double>(2 * n - r.pose.cols());
  r.alone = ((0.5 * taken_up) * (squares.head(n) + squares.tail(n))).asDiagonal();
  r.residual_px = view.residual_px;
  return r;
}

std::vector<Reduced> reduce(const std::vector<FittedView>& views) {
  std::vector<Reduced> photos;
  photos.reserve(views.size());
  double sum = 0.0;
  double corners = 0.0;
  for (const FittedView& view : views) {
    photos.push_back(reduce(view));
    sum += photos.back().alone.trace();
    corners += static_cast<double>(photos.back().alone.rows());
  }
  for (Reduced& photo : photos) photo.alone *= sum > 0.0 ? corners / sum : 0.0;
  return photos;
}

// A quadratic form, or the covariance of errors of unit variance: correlation for x and for y alike; none is the
// identity.
using Form = const MatrixXd*;
MatrixXd through(Form form, const MatrixXd& rows) { return form == nullptr ? rows : both_axes(*form, rows); }
double trace_of(Form a, Form v, double corners) {
  if (a != nullptr && v != nullptr) return 2.0 * trace_of_product(*a, *v);
  const MatrixXd* one = a != nullptr ? a : v;
  return 2.0 * (one != nullptr ? one->trace() : corners);
}

// Residuals: r = (1 - U U^T) e - B H^-1 sum B^T e, U the pose's basis, B the reduced Jacobian. For errors of covariance
// V in every photo this is the expectation of r^T A r of one photo; pooled: sum of B^T V B over the photos.
double expected_form(const Reduced& photo, Form a, Form v, const MatrixXd& inverse, const MatrixXd& pooled) {
  const MatrixXd& u = photo.pose;
  const MatrixXd& b = photo.shared;
  const MatrixXd au = through(a, u);
  const MatrixXd vu = through(v, u);
  const MatrixXd ab = through(a, b);
  const MatrixXd vb = through(v, b);
  const double own = trace_of(a, v, static_cast<double>(photo.kin.rows())) - 2.0 * au.cwiseProduct(vu).sum() +
                     transpose_times(u, au).cwiseProduct(transpose_times(u, vu)).sum();
  const MatrixXd cross = transpose_times(vb, ab) - times(transpose_times(vb, u), transpose_times(u, ab));
  const MatrixXd answer = times(times(inverse, pooled), inverse);
  return own - 2.0 * trace_of_product(inverse, cross) + trace_of_product(answer, transpose_times(b, ab));
}

// How much the variance of products of unlike corners' errors grows by some corners being noisier than others: met, and
// what it would be were all like the mean.
Vector2d spread_of_noise(const Reduced& photo, double mean_square) {
  const MatrixXd squares = photo.residual_px.cwiseAbs2();
  const MatrixXd kin = photo.between.cwiseAbs2();
  return {squares.cwiseProduct(both_axes(kin, squares)).sum(), 2.0 * kin.sum() * mean_square * mean_square};
}

// What a variance is expected to be that was estimated with that sigma. It cannot be negative, and what does not show
// by more than chance may still be there: it weighs, for a pose takes up whole what a board's corners err together. As
// likely below `usual` as above, with a tail as long as that of a ratio of variances (usual / (usual + v)^2).
double expected_variance(double estimate, double sigma, double usual) {
  constexpr int kSteps = 120;     // of the integral: a tenth of a sigma each
  constexpr double kReach = 6.0;  // sigmas
  const double top = std::max(estimate, 0.0) + kReach * sigma;
  const double nearest = std::max(-estimate, 0.0) / sigma;  // of the densities only ratios count
  double weights = 0.0;
  double sum = 0.0;
  for (int i = 0; i < kSteps; ++i) {
    const double variance = top * (i + 0.5) / kSteps;
    const double z = (variance - estimate) / sigma;
    const double weight = std::exp(0.5 * (nearest * nearest - z * z)) / ((usual + variance) * (usual + variance));
    weights += weight;
    sum += weight * variance;
  }
  return weights > 0.0 ? sum / weights : std::max(estimate, 0.0);
}

// met: the residuals' squares, and their products by the correlation. unlike: how much more these products scatter than
// were all corners alike, a ratio of variances.
CornerNoise split(const Eigen::Matrix2d& expected, const Vector2d& met, double unlike) {
  const double alone_only = std::max(0.0, met[0] / expected(0, 0));
  const CornerNoise independent{std::sqrt(alone_only), 0.0};
  const double alike = expected(0, 1) * expected(1, 0) / (expected(0, 0) * expected(1, 1));
  if (!(alike < kTooAlike) || !(alone_only > 0.0)) return independent;
  // how much smoother the residuals are than independent errors leave them
  const double of_together = expected(1, 1) * (1.0 - alike);
  const double smoother = met[1] - alone_only * expected(1, 0);
  const double by_chance = alone_only * std::sqrt(2.0 * of_together * unlike);
  const double together =
      expected_variance(smoother / of_together, by_chance / of_together, kUsualTogether * alone_only);
  const double alone = (met[0] - together * expected(0, 1)) / expected(0, 0);
  if (!(alone > 0.0)) return {0.0, std::sqrt(met[0] / expected(0, 1))};
  return {std::sqrt(alone), std::sqrt(together)};
}

// Fills disagreement and most_contrary: the mean square of the photos' own pulls on the shared parameters, in units of
// what the parameters can bear, over its expectation. pooled: sum of B^T V B for the noise as estimated.
void compare_pulls(const std::vector<Reduced>& photos, const MatrixXd& inverse, const MatrixXd& pooled,
                   SharedFit& fit) {
  const double alone = fit.noise.alone_px * fit.noise.alone_px;
  const double together = fit.noise.together_px * fit.noise.together_px;
  double met = 0.0;
  double expected = 0.0;
  double worst = 0.0;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    const MatrixXd& b = photos[i].shared;
    const MatrixXd pull = transpose_times(b, photos[i].residual_px);
    const MatrixXd own = transpose_times(b, b);
    const MatrixXd noisy = alone * transpose_times(b, both_axes(photos[i].alone, b)) +
                           together * transpose_times(b, both_axes(photos[i].kin, b));
    const double pulled = trace_of_product(pull.transpose(), times(inverse, pull));
    const MatrixXd answered = times(inverse, own);
    const double by_noise = trace_of_product(
        inverse, noisy - 2.0 * times(noisy, answered) + transpose_times(answered, times(pooled, answered)));
    met += pulled;
    expected += by_noise;
    if (pulled > worst * by_noise) {
      worst = pulled / by_noise;
      fit.most_contrary = i;
    }
  }
  if (expected > 0.0) fit.disagreement = std::sqrt(met / expected);
}

// What the corners of these photos err alone and together. Alone: as their residuals say, for a photo's own light, blur
// and size of squares decide it. Together: as the lens's photos said, for one photo's residuals hardly tell. What
// is little beside what the lens's corners err alone goes with what these err alone; what is much, as on a wavy sheet,
// stays as it was. Unless the residuals are smoother by more than chance makes them, as those of a sheet that lies less
// flat than it was held.
CornerNoise noise_of(const std::vector<FittedView>& views, const CornerNoise& of_lens, double misfit_px) {
  // S = R K R: the correlation seen through R, which takes out what any pose of the board takes up
  double freedom = 0.0;
  double trace[4] = {0.0, 0.0, 0.0, 0.0};  // of S, S^2, S^3, S^4
  Vector2d met = Vector2d::Zero();         // squares of the residuals, plain and by the correlation
  for (const FittedView& view : views) {
    const MatrixXd kin = correlation(view.mm, view.mm, reach_mm(view.mm));
    const MatrixXd pose = orthonormal_basis(view.by_shared);
    const MatrixXd identity = MatrixXd::Identity(pose.rows(), pose.rows());
    const MatrixXd rest = identity - times(pose, pose.transpose());
    const MatrixXd seen = times(rest, both_axes(kin, rest));
    const MatrixXd squared = times(seen, seen);
    const MatrixXd residual = times(rest, view.residual_px);
    freedom += static_cast<double>(pose.rows() - pose.cols());
    trace[0] += seen.trace();
    trace[1] += squared.trace();
    trace[2] += trace_of_product(seen, squared);
    trace[3] += trace_of_product(squared, squared);
    met += Vector2d(residual.squaredNorm(), residual.cwiseProduct(both_axes(kin, residual)).sum());
  }
  const double of_lens_alone = of_lens.alone_px * of_lens.alone_px;
  const double of_lens_together = of_lens.together_px * of_lens.together_px;
  const double usual = of_lens_together > 0.0 ? of_lens_together / (of_lens_alone + of_lens_together) : 0.0;
  const double misfit = misfit_px * misfit_px;
  const double beyond = of_lens_together - usual * of_lens_alone;
  const double alone = std::max(0.0, (met[0] - (beyond + misfit) * trace[0]) / (freedom + usual * trace[0]));
  const double neighbours = beyond + usual * alone;
  const double together = neighbours + misfit;
  const double expected = alone * trace[0] + together * trace[1];
  const double variance =
      2.0 * (alone * alone * trace[1] + 2.0 * alone * together * trace[2] + together * together * trace[3]);
  if (met[1] <= expected + kBeyondChance * std::sqrt(variance)) return {std::sqrt(alone), std::sqrt(neighbours)};
  Eigen::Matrix2d forms;
  forms << freedom, trace[0], trace[0], trace[1];
  return split(forms, met, 1.0);
}

// How far the boards of several photos contradict each other: the squares of what one pose cannot take up though each
// photo's own could, over what the noise lets expect of them; 1 where chance explains it.
double widening(const std::vector<FittedView>& views, const CornerNoise& noise, const HeldFixed& held) {
  constexpr Eigen::Index kPose = 6;  // unknowns: turn and place
  Eigen::Index unknowns = kPose;
  for (const FittedView& view : views) unknowns += view.by_pose.cols();
  const Eigen::Index count = kPose * static_cast<Eigen::Index>(views.size());
  if (count <= unknowns) return 1.0;
  MatrixXd fitted = MatrixXd::Zero(count, unknowns);  // in each photo's six directions
  MatrixXd covariance = MatrixXd::Zero(count, count);
  MatrixXd by_held(count, held.px_by.cols());
  VectorXd met(count);
  const double together = noise.together_px * noise.together_px + held.misfit_px * held.misfit_px;
  Eigen::Index column = kPose;
  Eigen::Index row = 0;
  for (std::size_t i = 0; i < views.size(); ++i) {
    const FittedView& view = views[i];
    const Eigen::Index at = kPose * static_cast<Eigen::Index>(i);
    const MatrixXd pose = orthonormal_basis(view.by_shared);
    const MatrixXd kin = correlation(view.mm, view.mm, reach_mm(view.mm));
    fitted.block(at, 0, kPose, kPose) = transpose_times(pose, view.by_shared);
    fitted.block(at, column, kPose, view.by_pose.cols()) = transpose_times(pose, view.by_pose);
    column += view.by_pose.cols();
    covariance.block(at, at, kPose, kPose) = noise.alone_px * noise.alone_px * MatrixXd::Identity(kPose, kPose) +
                                             together * transpose_times(pose, both_axes(kin, pose));
    if (by_held.cols() > 0)
      by_held.middleRows(at, kPose) = transpose_times(pose, held.px_by.middleRows(row, pose.rows()));
    row += pose.rows();
    met.segment(at, kPose) = transpose_times(pose, view.residual_px);
  }
  if (by_held.cols() > 0) covariance += propagated(by_held, held.covariance);
  const MatrixXd taken_up = orthonormal_basis(fitted);
  const MatrixXd rest = MatrixXd::Identity(count, count) - times(taken_up, taken_up.transpose());
  const MatrixXd left = propagated(rest, covariance);
  const double expected = left.trace();
  const double by_chance = std::sqrt(2.0 * left.squaredNorm());
  const double seen = met.squaredNorm();
  return seen > expected + kBeyondChance * by_chance ? seen / expected : 1.0;
}

}  // namespace

double reach_mm(const std::vector<Vector2d>& board) {
  constexpr double kReachOfSide = 0.25;  // of the board's shorter side: neighbours
  Vector2d low = board.front();
  Vector2d high = board.front();
  for (const Vector2d& p : board) {
    low = low.cwiseMin(p);
    high = high.cwiseMax(p);
  }
  return kReachOfSide * (high - low).maxCoeff();
}

MatrixXd correlation(const std::vector<Vector2d>& a, const std::vector<Vector2d>& b, double reach) {
  MatrixXd k(static_cast<Eigen::Index>(a.size()), static_cast<Eigen::Index>(b.size()));
  for (Eigen::Index i = 0; i < k.rows(); ++i)
    for (Eigen::Index j = 0; j < k.cols(); ++j) {
      const double d = (a[static_cast<std::size_t>(i)] - b[static_cast<std::size_t>(j)]).norm() / reach;
      k(i, j) = std::exp(-0.5 * d * d);
    }
  return k;
}

MatrixXd weighted(MatrixXd correlation, const std::vector<double>& a_root, const std::vector<double>& b_root) {
  for (std::size_t i = 0; i < a_root.size(); ++i) correlation.row(static_cast<Eigen::Index>(i)) *= a_root[i];
  for (std::size_t j = 0; j < b_root.size(); ++j) correlation.col(static_cast<Eigen::Index>(j)) *= b_root[j];
  return correlation;
}

MatrixXd both_axes(const MatrixXd& correlation, const MatrixXd& rows) {
  MatrixXd product(2 * correlation.rows(), rows.cols());
  // a photo by itself shares nothing: a matrix without columns has no memory for a block to stand in
  if (rows.cols() == 0) return product;
  product.topRows(correlation.rows()) = times(correlation, rows.topRows(correlation.cols()));
  product.bottomRows(correlation.rows()) = times(correlation, rows.bottomRows(correlation.cols()));
  return product;
}

SharedFit judge_shared(const std::vector<FittedView>& views, const MatrixXd& inverse, const Expectation& expectation) {
  const std::vector<Reduced> photos = reduce(views);
  const Eigen::Index m = inverse.rows();
  MatrixXd pooled[2] = {MatrixXd::Zero(m, m), MatrixXd::Zero(m, m)};
  for (const Reduced& photo : photos) {
    pooled[0] += transpose_times(photo.shared, both_axes(photo.alone, photo.shared));
    pooled[1] += transpose_times(photo.shared, both_axes(photo.kin, photo.shared));
  }
  Eigen::Matrix2d expected = Eigen::Matrix2d::Zero();
  Vector2d met = Vector2d::Zero();
  double rows = 0.0;
  for (const Reduced& photo : photos) {
    const Form forms[2] = {nullptr, &photo.between};
    const Form errors[2] = {&photo.alone, &photo.kin};
    for (int a = 0; a < 2; ++a) {
      met[a] += photo.residual_px.dot(through(forms[a], photo.residual_px).col(0));
      for (int v = 0; v < 2; ++v) expected(a, v) += expected_form(photo, forms[a], errors[v], inverse, pooled[v]);
    }
    rows += static_cast<double>(photo.residual_px.size());
  }
  Vector2d spread = Vector2d::Zero();
  for (const Reduced& photo : photos) spread += spread_of_noise(photo, met[0] / rows);
  SharedFit fit;
  fit.noise = split(expected, met, spread[1] > 0.0 ? std::max(1.0, spread[0] / spread[1]) : 1.0);
  const MatrixXd noisy =
      fit.noise.alone_px * fit.noise.alone_px * pooled[0] + fit.noise.together_px * fit.noise.together_px * pooled[1];
  compare_pulls(photos, inverse, noisy, fit);
  const double scale = std::max(1.0, fit.disagreement * fit.disagreement);
  MatrixXd known = scale * noisy;
  known.diagonal() += expectation.noise_px * expectation.noise_px * expectation.precision;
  fit.covariance = propagated(inverse, known);
  // against independent errors that leave residuals as large
  const double independent = met[0] / expected(0, 0) * trace_of_product(inverse, pooled[0]);
  fit.share_independent = std::min(1.0, independent / (scale * trace_of_product(inverse, noisy)));
  return fit;
}

PoseFromPhotos pose_from_photos(const std::vector<FittedView>& views, const CornerNoise& of_lens,
                                const HeldFixed& held) {
  Eigen::Index rows = 0;
  for (const FittedView& view : views) rows += view.residual_px.size();
  // what the pose does once each photo's own unknowns have followed
  MatrixXd by_pose(rows, 6);
  Eigen::Index at = 0;
  for (const FittedView& view : views) {
    const MatrixXd own =
        view.by_pose.cols() > 0 ? orthonormal_basis(view.by_pose) : MatrixXd(view.residual_px.size(), 0);
    by_pose.middleRows(at, view.residual_px.size()) = view.by_shared - times(own, transpose_times(own, view.by_shared));
    at += view.residual_px.size();
  }
  // in an orthonormal basis: the six columns' units differ by powers of ten
  const MatrixXd basis = orthonormal_basis(by_pose);
  Eigen::Matrix<double, 6, 6> kept = Eigen::Matrix<double, 6, 6>::Zero();
  at = 0;
  for (const FittedView& view : views) {
    const MatrixXd kin = correlation(view.mm, view.mm, reach_mm(view.mm));
    const MatrixXd part = basis.middleRows(at, view.residual_px.size());
    kept += transpose_times(part, both_axes(kin, part));
    at += view.residual_px.size();
  }
  const CornerNoise noise = noise_of(views, of_lens, held.misfit_px);
  const Eigen::Matrix<double, 6, 6> pose_from_basis =
      solve_least_squares(transpose_times(basis, by_pose).topLeftCorner(6, 6), MatrixXd::Identity(6, 6));
  PoseFromPhotos result;
  result.by_px = times(pose_from_basis, basis.transpose());
  const Eigen::Matrix<double, 6, 6> errors =
      widening(views, noise, held) * (noise.alone_px * noise.alone_px * Eigen::Matrix<double, 6, 6>::Identity() +
                                      noise.together_px * noise.together_px * kept);
  result.covariance = propagated(pose_from_basis, errors);
  return result;
}

}  // namespace jigtrue
