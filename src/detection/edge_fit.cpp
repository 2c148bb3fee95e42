#include "jigtrue/detection/edge_fit.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/QR>

namespace jigtrue {
namespace {

constexpr double kPlaceStepPx = 0.1;   // the minimum is refined by a parabola
constexpr double kTableStepPx = 0.05;
constexpr double kTableReachPx = 40.0;
constexpr double kSlopeScalePx = 10.0;
constexpr double kQuantisationNoise = 0.15;  // grey levels of a mean of rounded values; keeps a flat synthetic picture finite

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
      value += kernel[static_cast<std::size_t>(k + half)] * sharp[static_cast<std::size_t>(std::clamp(i + k, 0, n - 1))];
    result[static_cast<std::size_t>(i)] = value / sum;
  }
  return result;
}

double look_up(const Table& table, double x) {
  const double position = std::clamp((x + kTableReachPx) / kTableStepPx, 0.0, static_cast<double>(table.size()) - 1.001);
  const auto i = static_cast<std::size_t>(position);
  const double share = position - static_cast<double>(i);
  return table[i] + share * (table[i + 1] - table[i]);
}

// The model's terms as functions of s = x - e, sharp. A wall is of the blank's own stuff: under another light, so its luma is
// free, but its colour is the top's.
enum class WallLook { own_level, as_inside };
std::vector<Table> sharp_terms(double radius_px, double wall_px, WallLook look) {
  const auto n = static_cast<std::size_t>(table_size());
  std::vector<Table> terms(radius_px > 0.0 || wall_px > 0.0 ? 5 : 4, Table(n, 0.0));
  for (std::size_t i = 0; i < n; ++i) {
    const double s = -kTableReachPx + static_cast<double>(i) * kTableStepPx;
    const double inside = std::abs(s) < 0.5 * kTableStepPx ? 0.5 : (s < 0.0 ? 1.0 : 0.0);
    terms[1][i] = inside * -s / kSlopeScalePx;
    const double wall = wall_px > 0.0 && inside < 1.0 && s < wall_px ? 1.0 - inside : 0.0;
    const double outside = 1.0 - inside - wall;
    terms[0][i] = look == WallLook::as_inside ? inside + wall : inside;
    terms[2][i] = outside;
    terms[3][i] = outside * (s - wall_px) / kSlopeScalePx;
    if (radius_px > 0.0) {
      const double u = 1.0 - std::clamp(-s / radius_px, 0.0, 1.0);
      terms[4][i] = inside * std::sqrt(1.0 - u * u);
    } else if (wall_px > 0.0 && look == WallLook::own_level) {
      terms[4][i] = wall;
    }
  }
  return terms;
}

MatrixXd orthonormal(const MatrixXd& basis) {
  const Eigen::ColPivHouseholderQR<MatrixXd> qr(basis);
  return qr.householderQ() * MatrixXd::Identity(basis.rows(), qr.rank());
}

double misfit_square(const MatrixXd& basis, const VectorXd& y) { return std::max(y.squaredNorm() - (basis.transpose() * y).squaredNorm(), 0.0); }

}  // namespace

EdgeModel::EdgeModel(const EdgeModelOptions& options) : options_(options) {
  columns_ = static_cast<int>(std::lround((options.inside_px + options.outside_px) / options.step_px)) + 1;
  places_ = 2 * static_cast<int>(std::lround(options.range_px / kPlaceStepPx)) + 1;
  auto bases = [&](double blur_px, WallLook look) {
    std::vector<Table> tables;
    for (const Table& term : sharp_terms(options.radius_px, options.wall_px, look)) tables.push_back(blurred(term, blur_px));
    std::vector<MatrixXd> result;
    for (int place = 0; place < places_; ++place) {
      const double e = -options_.range_px + place * kPlaceStepPx;
      MatrixXd basis(columns_, static_cast<Eigen::Index>(tables.size()));
      for (int j = 0; j < columns_; ++j)
        for (std::size_t k = 0; k < tables.size(); ++k)
          basis(j, static_cast<Eigen::Index>(k)) = look_up(tables[k], first_px() + j * options_.step_px - e);
      result.push_back(orthonormal(basis));
    }
    return result;
  };
  luma_ = bases(options.blur_px, WallLook::own_level);
  chroma_ = bases(std::hypot(options.blur_px, options.chroma_blur_px), WallLook::as_inside);
  MatrixXd smooth(columns_, 3);
  for (int j = 0; j < columns_; ++j) {
    const double x = (first_px() + j * options.step_px) / kSlopeScalePx;
    smooth.row(j) << 1.0, x, x * x;
  }
  edgeless_ = orthonormal(smooth);
}

EdgeFit EdgeModel::fit(const std::array<std::vector<double>, kChannels>& profile, const std::array<double, kChannels>& noise,
                       ChannelRange channels) const {
  VectorXd cost = VectorXd::Zero(places_);
  double without_edge = 0.0;
  double with_edge = 0.0;
  const double freedom = std::max(1.0, static_cast<double>(columns_ - luma_.front().cols() - 1));
  for (int c = channels.first; c < channels.end; ++c) {
    const auto& values = profile[static_cast<std::size_t>(c)];
    const VectorXd y = Eigen::Map<const VectorXd>(values.data(), columns_);
    VectorXd misfit(places_);
    const auto& bases = c == 0 ? luma_ : chroma_;
    for (int place = 0; place < places_; ++place) misfit[place] = misfit_square(bases[static_cast<std::size_t>(place)], y);
    const double floor = std::hypot(noise[static_cast<std::size_t>(c)], kQuantisationNoise);
    const double variance = std::max(misfit.minCoeff() / freedom, floor * floor);
    cost += misfit / variance;
    without_edge += misfit_square(edgeless_, y) / variance;
  }
  Eigen::Index best = 0;
  with_edge = cost.minCoeff(&best);
  EdgeFit fit;
  fit.at_rim = best == 0 || best == places_ - 1;
  fit.position_px = -options_.range_px + static_cast<double>(best) * kPlaceStepPx;
  fit.gain = without_edge / std::max(with_edge, 1e-9);
  fit.misfit = with_edge;
  fit.sigma_px = options_.range_px;
  if (!fit.at_rim) {
    const double below = cost[best - 1];
    const double here = cost[best];
    const double above = cost[best + 1];
    const double curvature = below - 2.0 * here + above;
    if (curvature > 1e-12) {
      fit.position_px += kPlaceStepPx * 0.5 * (below - above) / curvature;
      // neighbouring profile values share pixels: about 1 / step of them are independent
      const double repeats = 1.0 / options_.step_px;
      fit.sigma_px = std::min(options_.range_px, kPlaceStepPx * std::sqrt(2.0 * repeats / curvature));
    }
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
      const double quartiles = column_values[static_cast<std::size_t>(n - 1 - cut)] - column_values[static_cast<std::size_t>(cut)];
      scatter += quartiles / 1.349;
    }
    // rows are about two pixels apart and so nearly independent
    mean.noise[static_cast<std::size_t>(c)] = scatter / columns / std::sqrt(static_cast<double>(std::max(1, n - 2 * (n / 4))));
  }
  return mean;
}

}  // namespace jigtrue
