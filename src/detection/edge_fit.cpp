#include "jigtrue/detection/edge_fit.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/QR>

namespace jigtrue {
namespace {

constexpr double kPlaceStepPx = 0.1;  // the minimum is refined by a parabola
constexpr double kTableStepPx = 0.05;
constexpr double kTableReachPx = 40.0;
constexpr double kSlopeScalePx = 10.0;
constexpr double kQuantisationNoise =
    0.15;  // grey levels of a mean of rounded values; keeps a flat synthetic picture finite

using Table = std::vector<double>;

int table_size() { return 2 * static_cast<int>(std::lround(kTableReachPx / kTableStepPx)) + 1; }

Table blurred(const Table& sharp, double blur_px) {
  const int half = static_cast<int>(std::ceil(4.0 * blur_px / kTableStepPx));
  std::vector<double> kernel;
  double sum = 0.0;
  for (int k = -half; k <= half; ++k) {
    const double x = k * kTableStepPx / blur_px;
    kernel.push_back(std::exp(-0.5 * x * x));
    sum += kernel.back();
  }
  const int n = static_cast<int>(sharp.size());
  Table result(sharp.size(), 0.0);
  for (int i = 0; i < n; ++i) {
    double value = 0.0;
    for (int k = -half; k <= half; ++k)
      value +=
          kernel[static_cast<std::size_t>(k + half)] * sharp[static_cast<std::size_t>(std::clamp(i + k, 0, n - 1))];
    result[static_cast<std::size_t>(i)] = value / sum;
  }
  return result;
}

double look_up(const Table& table, double x) {
  const double position =
      std::clamp((x + kTableReachPx) / kTableStepPx, 0.0, static_cast<double>(table.size()) - 1.001);
  const auto i = static_cast<std::size_t>(position);
  const double share = position - static_cast<double>(i);
  return table[i] + share * (table[i + 1] - table[i]);
}

// The model's terms as functions of s = x - e, sharp. The first kInsideTerms belong to the blank, the others to what
// lies beside it.
constexpr int kInsideTerms = 3;

std::vector<Table> sharp_terms(double radius_px, double wall_px) {
  const auto n = static_cast<std::size_t>(table_size());
  const bool third = radius_px > 0.0 || wall_px > 0.0;
  std::vector<Table> terms(kInsideTerms + 2, Table(n, 0.0));
  for (std::size_t i = 0; i < n; ++i) {
    const double s = -kTableReachPx + static_cast<double>(i) * kTableStepPx;
    const double inside = std::abs(s) < 0.5 * kTableStepPx ? 0.5 : (s < 0.0 ? 1.0 : 0.0);
    const double wall = wall_px > 0.0 && inside < 1.0 && s < wall_px ? 1.0 - inside : 0.0;
    const double outside = 1.0 - inside - wall;
    terms[0][i] = inside;
    terms[1][i] = inside * -s / kSlopeScalePx;
    if (radius_px > 0.0) {
      const double u = 1.0 - std::clamp(-s / radius_px, 0.0, 1.0);
      terms[2][i] = inside * std::sqrt(1.0 - u * u);
    } else {
      terms[2][i] = wall;
    }
    terms[kInsideTerms][i] = outside;
    terms[kInsideTerms + 1][i] = outside * (s - wall_px) / kSlopeScalePx;
  }
  if (!third) terms.erase(terms.begin() + 2);
  return terms;
}

MatrixXd orthonormal(const MatrixXd& basis) {
  const Eigen::ColPivHouseholderQR<MatrixXd> qr(basis);
  return qr.householderQ() * MatrixXd::Identity(basis.rows(), qr.rank());
}

// Least squares by two columns; falls back to the larger one when they are alike.
double misfit_of_two(const VectorXd& a, const VectorXd& b, const VectorXd& y) {
  const double aa = a.squaredNorm();
  const double bb = b.squaredNorm();
  const double ab = a.dot(b);
  const double ay = a.dot(y);
  const double by = b.dot(y);
  const double determinant = aa * bb - ab * ab;
  const double whole = y.squaredNorm();
  if (determinant > 1e-9 * aa * bb)
    return std::max(whole - (ay * (bb * ay - ab * by) + by * (aa * by - ab * ay)) / determinant, 0.0);
  const double larger = std::max(aa, bb);
  if (!(larger > 0.0)) return whole;
  const double product = aa >= bb ? ay : by;
  return std::max(whole - product * product / larger, 0.0);
}

}  // namespace

EdgeModel::EdgeModel(const EdgeModelOptions& options) : options_(options) {
  columns_ = static_cast<int>(std::lround((options.inside_px + options.outside_px) / options.step_px)) + 1;
  places_ = 2 * static_cast<int>(std::lround(options.range_px / kPlaceStepPx)) + 1;
  places_terms_ = tabulate(options.radius_px);
  if (options.radius_px > 0.0) plain_terms_ = tabulate(0.0);
  MatrixXd smooth(columns_, 3);
  for (int j = 0; j < columns_; ++j) {
    const double x = (first_px() + j * options.step_px) / kSlopeScalePx;
    smooth.row(j) << 1.0, x, x * x;
  }
  edgeless_ = orthonormal(smooth);
}

std::vector<EdgeModel::Terms> EdgeModel::tabulate(double radius_px) const {
  std::vector<Table> luma;
  std::vector<Table> chroma;
  for (const Table& term : sharp_terms(radius_px, options_.wall_px)) {
    luma.push_back(blurred(term, options_.blur_px));
    chroma.push_back(blurred(term, std::hypot(options_.blur_px, options_.chroma_blur_px)));
  }
  std::vector<Terms> result;
  for (int place = 0; place < places_; ++place) {
    const double e = -options_.range_px + place * kPlaceStepPx;
    Terms terms;
    terms.luma.resize(columns_, static_cast<Eigen::Index>(luma.size()));
    terms.chroma.resize(columns_, static_cast<Eigen::Index>(luma.size()));
    for (int j = 0; j < columns_; ++j) {
      for (std::size_t k = 0; k < luma.size(); ++k) {
        const double s = first_px() + j * options_.step_px - e;
        terms.luma(j, static_cast<Eigen::Index>(k)) = look_up(luma[k], s);
        terms.chroma(j, static_cast<Eigen::Index>(k)) = look_up(chroma[k], s);
      }
    }
    terms.solve = terms.luma.completeOrthogonalDecomposition().pseudoInverse();
    result.push_back(std::move(terms));
  }
  return result;
}

namespace {

// The misfit at every place, channels added, each over its own variance.
struct Misfits {
  VectorXd cost;
  double without_edge = 0.0;
};

template <class TermsList>
Misfits misfits(const TermsList& places, const MatrixXd& edgeless,
                const std::array<std::vector<double>, kChannels>& profile, const std::array<double, kChannels>& noise,
                ChannelRange channels) {
  const auto count = static_cast<Eigen::Index>(places.size());
  const Eigen::Index columns = edgeless.rows();
  const Eigen::Index terms_count = places.front().luma.cols();
  const Eigen::Index inside = terms_count - 2;
  auto profile_of = [&](int c) {
    return Eigen::Map<const VectorXd>(profile[static_cast<std::size_t>(c)].data(), columns);
  };
  const VectorXd luma = profile_of(0);
  MatrixXd misfit(count, channels.end);
  VectorXd blank(columns);
  VectorXd beside(columns);
  for (Eigen::Index place = 0; place < count; ++place) {
    const auto& terms = places[static_cast<std::size_t>(place)];
    const VectorXd amounts = terms.solve * luma;
    misfit(place, 0) = (luma - terms.luma * amounts).squaredNorm();
    if (channels.end == 1) continue;
    blank.noalias() = terms.chroma.leftCols(inside) * amounts.head(inside);
    beside.noalias() = terms.chroma.rightCols(2) * amounts.tail(2);
    for (int c = 1; c < channels.end; ++c) misfit(place, c) = misfit_of_two(blank, beside, profile_of(c));
  }
  Misfits result{VectorXd::Zero(count), 0.0};
  for (int c = channels.first; c < channels.end; ++c) {
    const double freedom = std::max(1.0, static_cast<double>(columns - 1 - (c == 0 ? terms_count : 2)));
    const double floor = std::hypot(noise[static_cast<std::size_t>(c)], kQuantisationNoise);
    const double variance = std::max(misfit.col(c).minCoeff() / freedom, floor * floor);
    result.cost += misfit.col(c) / variance;
    const VectorXd y = profile_of(c);
    result.without_edge += std::max(y.squaredNorm() - (edgeless.transpose() * y).squaredNorm(), 0.0) / variance;
  }
  return result;
}

}  // namespace

EdgeFit EdgeModel::fit(const std::array<std::vector<double>, kChannels>& profile,
                       const std::array<double, kChannels>& noise, ChannelRange channels) const {
  const Misfits found = misfits(places_terms_, edgeless_, profile, noise, channels);
  const VectorXd& cost = found.cost;
  Eigen::Index best = 0;
  const double with_edge = cost.minCoeff(&best);
  EdgeFit fit;
  fit.at_rim = best == 0 || best == places_ - 1;
  fit.position_px = -options_.range_px + static_cast<double>(best) * kPlaceStepPx;
  fit.gain = found.without_edge / std::max(with_edge, 1e-9);
  fit.sigma_px = options_.range_px;
  if (!plain_terms_.empty()) {
    Eigen::Index plain = 0;
    misfits(plain_terms_, edgeless_, profile, noise, channels).cost.minCoeff(&plain);
    fit.doubt_px = static_cast<double>(std::abs(plain - best)) * kPlaceStepPx;
  }
  if (fit.at_rim) return fit;
  const double below = cost[best - 1];
  const double above = cost[best + 1];
  const double curvature = below - 2.0 * cost[best] + above;
  if (curvature > 1e-12) {
    fit.position_px += kPlaceStepPx * 0.5 * (below - above) / curvature;
    // neighbouring profile values share pixels: about 1 / step of them are independent
    const double repeats = 1.0 / options_.step_px;
    fit.sigma_px = std::min(options_.range_px, kPlaceStepPx * std::sqrt(2.0 * repeats / curvature));
  }
  return fit;
}

MeanProfile mean_profile(const Strip& strip, int from, int to, int first_column, int columns) {
  MeanProfile mean;
  const int n = to - from;
  std::vector<double> column_values(static_cast<std::size_t>(n));
  for (int c = 0; c < kChannels; ++c) {
    auto& values = mean.values[static_cast<std::size_t>(c)];
    values.resize(static_cast<std::size_t>(columns));
    double scatter = 0.0;
    for (int j = 0; j < columns; ++j) {
      for (int i = 0; i < n; ++i)
        column_values[static_cast<std::size_t>(i)] = static_cast<double>(strip.row(c, from + i)[first_column + j]);
      std::sort(column_values.begin(), column_values.end());
      // a quarter from either end is left out: the interquartile mean
      const int cut = n / 4;
      double sum = 0.0;
      for (int i = cut; i < n - cut; ++i) sum += column_values[static_cast<std::size_t>(i)];
      values[static_cast<std::size_t>(j)] = sum / (n - 2 * cut);
      const double quartiles =
          column_values[static_cast<std::size_t>(n - 1 - cut)] - column_values[static_cast<std::size_t>(cut)];
      scatter += quartiles / 1.349;
    }
    // rows are about two pixels apart and so nearly independent
    mean.noise[static_cast<std::size_t>(c)] =
        scatter / columns / std::sqrt(static_cast<double>(std::max(1, n - 2 * (n / 4))));
  }
  return mean;
}

}  // namespace jigtrue
