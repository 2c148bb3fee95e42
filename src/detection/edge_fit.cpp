#include "jigtrue/detection/edge_fit.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <optional>
#include <stdexcept>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr double kPlaceStepPx = 0.1;  // grid of places; the minimum is refined by a parabola
constexpr int kCoarse = 5;            // every fifth place is tried first
constexpr std::size_t kRivals = 2;    // other local minima that are told
constexpr double kSlopeScalePx = 10.0;
constexpr double kQuantisationNoise =
    0.15;  // grey levels of a mean of rounded values; keeps a flat synthetic picture finite

double normal_cdf(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }
double normal_pdf(double x) { return std::exp(-0.5 * x * x) / std::sqrt(2.0 * kPi); }

// A step from 0 to 1 at s = 0 under a Gaussian of this sigma, and the ramp max(s, 0).
double blurred_step(double s, double sigma) { return normal_cdf(s / sigma); }
double blurred_ramp(double s, double sigma) { return s * normal_cdf(s / sigma) + sigma * normal_pdf(s / sigma); }
double blurred_square(double s, double sigma) {
  return (s * s + sigma * sigma) * normal_cdf(s / sigma) + s * sigma * normal_pdf(s / sigma);
}

// The shading term, d = -s > 0 inside: sqrt(1 - (1 - d/R)^2), 1 from the axis on; blurred numerically.
class BlurredShading {
 public:
  BlurredShading(double sigma, double radius_px) : step_(4.0 * sigma / kHalf), radius_px_(radius_px) {
    double sum = 0.0;
    for (std::size_t i = 0; i < weights_.size(); ++i) {
      weights_[i] = std::exp(-0.5 * (offset(i) / sigma) * (offset(i) / sigma));
      sum += weights_[i];
    }
    for (double& weight : weights_) weight /= sum;
  }

  [[nodiscard]] double at(double s) const {
    if (s + offset(0) >= 0.0) return 0.0;  // all of it outside
    double value = 0.0;
    for (std::size_t i = 0; i < weights_.size(); ++i) {
      const double depth = std::clamp(-(s + offset(i)) / radius_px_, 0.0, 1.0);
      value += weights_[i] * std::sqrt(depth * (2.0 - depth));
    }
    return value;
  }

 private:
  static constexpr std::size_t kHalf = 48;
  double step_;
  double radius_px_;
  std::array<double, 2 * kHalf + 1> weights_{};

  [[nodiscard]] double offset(std::size_t i) const {
    return (static_cast<double>(i) - static_cast<double>(kHalf)) * step_;
  }
};

constexpr int kMostTerms = 7;
using TermsSquare = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, kMostTerms, kMostTerms>;

struct TermsRow {
  std::array<double, kMostTerms> values{};
  std::size_t count = 0;
  void push_back(double value) { values.at(count++) = value; }
};

// The model's terms at s = x - e. The first three belong to the blank (level, slope, shading or wall), the others to
// what lies beside it (level, slope). Absent ones are left out.
TermsRow terms_at(double s, double sigma, const BlurredShading* shading, const EdgeModelOptions& options,
                  bool curved_shade) {
  const double wall_px = options.wall_px;
  TermsRow terms;
  terms.push_back(blurred_step(-s, sigma));
  terms.push_back(blurred_ramp(-s, sigma) / kSlopeScalePx);
  if (shading != nullptr)
    terms.push_back(shading->at(s));
  else if (wall_px > 0.0)
    terms.push_back(blurred_step(s, sigma) - blurred_step(s - wall_px, sigma));
  terms.push_back(blurred_step(s - wall_px, sigma));
  terms.push_back(blurred_ramp(s - wall_px, sigma) / kSlopeScalePx);
  if (curved_shade) terms.push_back(blurred_square(s - wall_px, sigma) / (kSlopeScalePx * kSlopeScalePx));
  if (options.second_px > 0.0) terms.push_back(blurred_step(s - wall_px - options.second_px, sigma));
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
  if (options.second_px <= 0.0) {
    edgeless_.push_back(orthonormal(smooth));
    return;
  }
  const double from = std::max(options.wall_px + options.second_px - options.range_px, first_px() + options.blur_px);
  const double to = std::min(options.wall_px + options.second_px + options.range_px, last_px() - options.blur_px);
  for (double at = from; at <= to + 1e-9; at += options.step_px) {
    MatrixXd other(columns_, 4);
    other.leftCols<3>() = smooth;
    for (int j = 0; j < columns_; ++j)
      other(j, 3) = blurred_step(first_px() + j * options.step_px - at, options.blur_px);
    edgeless_.push_back(orthonormal(other));
  }
}

EdgeModel::Terms EdgeModel::tabulate(double radius_px) const {
  // x and e lie on multiples of the place step, and so does s: each value is computed once
  const bool curved = radius_px > 0.0 && options_.curved_shade;
  Terms terms;
  terms.columns = columns_;
  terms.places = places_;
  terms.stride = std::lround(options_.step_px / kPlaceStepPx);
  terms.outside = 2 + (curved ? 1 : 0) + (options_.second_px > 0.0 ? 1 : 0);
  const Eigen::Index distinct = (columns_ - 1) * terms.stride + places_;
  const double first = first_px() - options_.range_px;
  const auto tables = [&](double sigma) {
    std::optional<BlurredShading> shading;
    if (radius_px > 0.0) shading.emplace(sigma, radius_px);
    std::vector<MatrixXd> rows(static_cast<std::size_t>(terms.stride));
    for (Eigen::Index i = 0; i < distinct; ++i) {
      const TermsRow row = terms_at(first + static_cast<double>(i) * kPlaceStepPx, sigma, shading ? &*shading : nullptr,
                                    options_, curved);
      MatrixXd& table = rows[static_cast<std::size_t>(i % terms.stride)];
      if (table.size() == 0)
        table.resize((distinct + terms.stride - 1) / terms.stride, static_cast<Eigen::Index>(row.count));
      table.row(i / terms.stride) = Eigen::Map<const Eigen::RowVectorXd>(row.values.data(), table.cols());
    }
    return rows;
  };
  terms.luma_rows = tables(options_.blur_px);
  terms.chroma_rows = tables(std::hypot(options_.blur_px, options_.chroma_blur_px));
  const Eigen::Index count = terms.luma_rows.front().cols();
  terms.inverses.resize(count, count * terms.places);
  for (Eigen::Index place = 0; place < terms.places; ++place) {
    const auto luma = terms.luma(place);
    // terms are of order one; the ridge only settles what the window cannot tell apart
    TermsSquare normal = luma.transpose() * luma;
    normal.diagonal().array() += 1e-9 * normal.trace();
    terms.inverses.middleCols(place * count, count) = normal.ldlt().solve(TermsSquare::Identity(count, count));
  }
  return terms;
}

namespace {

// One block's profile against the model: the misfit of every channel at one place.
template <class Terms>
class Trial {
 public:
  Trial(const Terms& terms, const std::array<std::vector<double>, kChannels>& profile, ChannelRange channels)
      : terms_(terms), channels_(channels), misfit_(terms.places, kChannels) {
    misfit_.setConstant(-1.0);
    for (int c = 0; c < channels.end; ++c)
      profile_[static_cast<std::size_t>(c)] =
          Eigen::Map<const VectorXd>(profile[static_cast<std::size_t>(c)].data(), terms.columns);
    blank_.resize(terms.columns);
    beside_.resize(terms.columns);
  }

  void look(Eigen::Index place) {
    if (misfit_(place, 0) >= 0.0) return;
    const Eigen::Index inside = terms_.count() - terms_.outside;
    const auto luma = terms_.luma(place);
    projected_.noalias() = luma.transpose() * profile_[0];
    amounts_.noalias() = terms_.inverse(place) * projected_;
    blank_.noalias() = profile_[0] - luma * amounts_;
    misfit_(place, 0) = blank_.squaredNorm();
    if (channels_.end == 1) return;
    const auto chroma = terms_.chroma(place);
    blank_.noalias() = chroma.leftCols(inside) * amounts_.head(inside);
    beside_.noalias() = chroma.rightCols(terms_.outside) * amounts_.tail(terms_.outside);
    for (int c = 1; c < channels_.end; ++c)
      misfit_(place, c) = misfit_of_two(blank_, beside_, profile_[static_cast<std::size_t>(c)]);
  }

  [[nodiscard]] double misfit(Eigen::Index place, int channel) const { return misfit_(place, channel); }
  [[nodiscard]] const VectorXd& profile(int channel) const { return profile_[static_cast<std::size_t>(channel)]; }

 private:
  const Terms& terms_;
  ChannelRange channels_;
  std::array<VectorXd, kChannels> profile_;
  MatrixXd misfit_;
  VectorXd projected_;
  VectorXd amounts_;
  VectorXd blank_;
  VectorXd beside_;
};

// Every place of a coarse grid first, then the neighbourhood of the best: channels are weighted by the least misfit
// that each has shown so far.
struct Found {
  Eigen::Index place = 0;
  std::vector<Eigen::Index> rivals;  // other local minima, best first
  std::array<double, kChannels> variance{};
  double cost = 0.0;
};

template <class Terms>
Found search(Trial<Terms>& trial, const Terms& terms, const std::array<double, kChannels>& noise, ChannelRange channels,
             std::size_t rivals_wanted) {
  const Eigen::Index count = terms.places;
  const auto columns = static_cast<double>(terms.columns);
  std::vector<Eigen::Index> looked;
  auto look = [&](Eigen::Index place) {
    trial.look(place);
    looked.push_back(place);
  };
  Found found;
  auto choose = [&] {
    for (int c = channels.first; c < channels.end; ++c) {
      const double freedom = std::max(1.0, columns - 1.0 - (c == 0 ? static_cast<double>(terms.count()) : 2.0));
      double least = trial.misfit(looked.front(), c);
      for (const Eigen::Index place : looked) least = std::min(least, trial.misfit(place, c));
      const double floor = std::hypot(noise[static_cast<std::size_t>(c)], kQuantisationNoise);
      found.variance[static_cast<std::size_t>(c)] = std::max(least / freedom, floor * floor);
    }
    found.cost = -1.0;
    for (const Eigen::Index place : looked) {
      double cost = 0.0;
      for (int c = channels.first; c < channels.end; ++c)
        cost += trial.misfit(place, c) / found.variance[static_cast<std::size_t>(c)];
      if (found.cost >= 0.0 && cost >= found.cost) continue;
      found.cost = cost;
      found.place = place;
    }
  };
  auto cost_at = [&](Eigen::Index place) {
    double cost = 0.0;
    for (int c = channels.first; c < channels.end; ++c)
      cost += trial.misfit(place, c) / found.variance[static_cast<std::size_t>(c)];
    return cost;
  };
  auto look_around = [&](Eigen::Index middle) {
    for (Eigen::Index place = std::max<Eigen::Index>(0, middle - kCoarse + 1);
         place < std::min(count, middle + kCoarse); ++place)
      if (place != middle) look(place);
  };
  for (Eigen::Index place = 0; place < count; place += kCoarse) look(place);
  choose();
  const Eigen::Index middle = found.place;
  std::vector<Eigen::Index> basins;
  if (rivals_wanted > 0) {
    for (Eigen::Index place = kCoarse; place + kCoarse < count; place += kCoarse)
      if (std::abs(place - middle) > kCoarse && cost_at(place) < cost_at(place - kCoarse) &&
          cost_at(place) < cost_at(place + kCoarse))
        basins.push_back(place);
    std::stable_sort(basins.begin(), basins.end(),
                     [&](Eigen::Index a, Eigen::Index b) { return cost_at(a) < cost_at(b); });
    if (basins.size() > rivals_wanted) basins.resize(rivals_wanted);
  }
  look_around(middle);
  choose();
  for (const Eigen::Index basin : basins) {
    look_around(basin);
    Eigen::Index best = basin;
    for (Eigen::Index place = basin - kCoarse + 1; place < basin + kCoarse; ++place)
      if (cost_at(place) < cost_at(best)) best = place;
    trial.look(best - 1);
    trial.look(best + 1);
    found.rivals.push_back(best);
  }
  // the neighbours of the best place, for the parabola
  for (const Eigen::Index place : {found.place - 1, found.place + 1})
    if (place >= 0 && place < count) trial.look(place);
  return found;
}

}  // namespace

EdgeFit EdgeModel::fit(const std::array<std::vector<double>, kChannels>& profile,
                       const std::array<double, kChannels>& noise, ChannelRange channels, Doubt doubt) const {
  Trial<Terms> trial(places_terms_, profile, channels);
  const Found found = search(trial, places_terms_, noise, channels, kRivals);
  double without_edge = std::numeric_limits<double>::infinity();
  for (const MatrixXd& basis : edgeless_) {
    double sum = 0.0;
    for (int c = channels.first; c < channels.end; ++c) {
      const VectorXd& y = trial.profile(c);
      sum += std::max(y.squaredNorm() - (basis.transpose() * y).squaredNorm(), 0.0) /
             found.variance[static_cast<std::size_t>(c)];
    }
    without_edge = std::min(without_edge, sum);
  }
  auto cost = [&](Eigen::Index place) {
    double sum = 0.0;
    for (int c = channels.first; c < channels.end; ++c)
      sum += trial.misfit(place, c) / found.variance[static_cast<std::size_t>(c)];
    return sum;
  };
  // neighbouring profile values share pixels: about 1 / step of them are independent
  const double repeats = 1.0 / options_.step_px;
  auto describe = [&](Eigen::Index place, bool inner) {
    EdgePlace edge{-options_.range_px + static_cast<double>(place) * kPlaceStepPx, options_.range_px,
                   without_edge / std::max(cost(place), 1e-9)};
    if (!inner) return edge;
    const double below = cost(place - 1);
    const double above = cost(place + 1);
    const double curvature = below - 2.0 * cost(place) + above;
    if (curvature > 1e-12) {
      edge.position_px += kPlaceStepPx * std::clamp(0.5 * (below - above) / curvature, -1.0, 1.0);
      edge.sigma_px = std::min(options_.range_px, kPlaceStepPx * std::sqrt(2.0 * repeats / curvature));
    }
    return edge;
  };
  EdgeFit fit;
  fit.at_rim = found.place == 0 || found.place == places_ - 1;
  const EdgePlace best = describe(found.place, !fit.at_rim);
  fit.position_px = best.position_px;
  fit.sigma_px = best.sigma_px;
  fit.gain = best.gain;
  fit.misfit = trial.misfit(found.place, 0) / static_cast<double>(columns_);
  for (const Eigen::Index place : found.rivals) fit.rivals.push_back(describe(place, true));
  if (doubt == Doubt::measured && plain_terms_) {
    Trial<Terms> plain(*plain_terms_, profile, channels);
    fit.doubt_px = static_cast<double>(std::abs(search(plain, *plain_terms_, noise, channels, 0).place - found.place)) *
                   kPlaceStepPx;
  }
  return fit;
}

namespace {

// So many columns are sorted side by side: what a processor compares at once.
constexpr std::size_t kAbreast = 8;
using Abreast = std::array<float, kAbreast>;

// Sorts every lane: merge exchange (Batcher 1968; Knuth, TAOCP 3, 5.2.2, algorithm M), whose comparisons do not depend
// on the values.
void sort_lanes(std::vector<Abreast>& rows) {
  const std::size_t n = rows.size();
  const auto exchange = [&](std::size_t i, std::size_t j) {
    Abreast& a = rows[i];
    Abreast& b = rows[j];
    for (std::size_t k = 0; k < kAbreast; ++k) {
      const float low = std::min(a[k], b[k]);
      b[k] = std::max(a[k], b[k]);
      a[k] = low;
    }
  };
  if (n < 2) return;
  const std::size_t top = std::bit_ceil(n) / 2;
  for (std::size_t p = top; p > 0; p /= 2) {
    std::size_t q = top;
    std::size_t r = 0;
    std::size_t d = p;
    while (true) {
      for (std::size_t i = 0; i + d < n; ++i)
        if ((i & p) == r) exchange(i, i + d);
      if (q == p) break;
      d = q - p;
      q /= 2;
      r = p;
    }
  }
}

}  // namespace

RowMean::RowMean(const Strip& strip, int from, int to) {
  constexpr double kQuartilesOfGaussian = 1.349;
  // What counts as noise in the fits, and with it every weight of plausibility.hpp, was settled with this share of it.
  constexpr double kShareOfScatter = 0.4;
  const int n = to - from;
  const int cut = n / 4;  // a quarter from either end is left out: the interquartile mean
  kept_ = n - 2 * cut;
  std::vector<Abreast> rows(static_cast<std::size_t>(n));
  for (int c = 0; c < kChannels; ++c) {
    const auto channel = static_cast<std::size_t>(c);
    means_[channel].resize(strip.columns);
    scatters_[channel].resize(strip.columns);
    for (int first = 0; first < strip.columns; first += static_cast<int>(kAbreast)) {
      const int lanes = std::min(static_cast<int>(kAbreast), strip.columns - first);
      for (int i = 0; i < n; ++i) {
        Abreast& row = rows[static_cast<std::size_t>(i)];
        row.fill(0.0F);
        std::copy_n(strip.row(c, from + i) + first, lanes, row.begin());
      }
      sort_lanes(rows);
      const auto lower = static_cast<std::size_t>(cut);
      const auto upper = static_cast<std::size_t>(n - 1 - cut);
      for (int k = 0; k < lanes; ++k) {
        const auto lane = static_cast<std::size_t>(k);
        double sum = 0.0;
        for (std::size_t i = lower; i <= upper; ++i) sum += static_cast<double>(rows[i][lane]);
        means_[channel][first + k] = sum / kept_;
        scatters_[channel][first + k] =
            kShareOfScatter / kQuartilesOfGaussian * static_cast<double>(rows[upper][lane] - rows[lower][lane]);
      }
    }
  }
}

MeanProfile RowMean::window(int first_column, int columns) const {
  if (first_column < 0 || columns < 0 || first_column + columns > means_[0].size())
    throw std::logic_error("a window of a strip's mean reaches beyond the strip");
  MeanProfile mean;
  for (std::size_t c = 0; c < kChannels; ++c) {
    const auto values = means_[c].segment(first_column, columns);
    mean.values[c].assign(values.begin(), values.end());
    // rows are about two pixels apart and so nearly independent
    mean.noise[c] =
        scatters_[c].segment(first_column, columns).mean() / std::sqrt(static_cast<double>(std::max(1, kept_)));
  }
  return mean;
}

}  // namespace jigtrue
