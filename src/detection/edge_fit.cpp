#include "jigtrue/detection/edge_fit.hpp"

#include "jigtrue/base/decompositions.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

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

// A step from 0 to 1 at s = 0, the ramp max(s, 0) and its square, each under a Gaussian of this sigma.
struct Blurred {
  double step;
  double ramp;
  double square;
};
Blurred blurred(double s, double sigma) {
  const double step = normal_cdf(s / sigma);
  const double near = sigma * normal_pdf(s / sigma);
  return {step, s * step + near, (s * s + sigma * sigma) * step + s * near};
}
double blurred_step(double s, double sigma) { return normal_cdf(s / sigma); }

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
    if (s + offset(0) >= 0.0) return 0.0;          // all of it outside
    if (s - offset(0) <= -radius_px_) return 1.0;  // or beyond the axis
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
constexpr int kFewLanes = 6;
constexpr int kMostLanes = 8;
using TermsSquare = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, kMostTerms, kMostTerms>;

struct TermsRow {
  std::array<double, kMostLanes> values{};
  std::size_t count = 0;
  void push_back(double value) { values.at(count++) = value; }
};

// The model's terms at s = x - e. The first three belong to the blank (level, slope, shading or wall), the others to
// what lies beside it (level, slope). Absent ones are left out.
TermsRow terms_at(double s, double sigma, const BlurredShading* shading, const EdgeModelOptions& options,
                  bool curved_shade) {
  const double wall_px = options.wall_px;
  const Blurred here = blurred(s, sigma);
  const Blurred beside = wall_px > 0.0 ? blurred(s - wall_px, sigma) : here;
  TermsRow terms;
  terms.push_back(1.0 - here.step);
  terms.push_back((here.ramp - s) / kSlopeScalePx);
  if (shading != nullptr)
    terms.push_back(shading->at(s));
  else if (wall_px > 0.0)
    terms.push_back(here.step - beside.step);
  terms.push_back(beside.step);
  terms.push_back(beside.ramp / kSlopeScalePx);
  if (curved_shade) terms.push_back(beside.square / (kSlopeScalePx * kSlopeScalePx));
  if (options.second_px > 0.0) terms.push_back(blurred_step(s - wall_px - options.second_px, sigma));
  return terms;
}

// sums[t] = sum over rows of rows[row][t] * profile[row], for one profile or two: a row's terms lie side by side.
template <int lanes>
void project_on_terms(const double* rows, Eigen::Index count, const double* profile, double* sums) {
  using Row = Eigen::Array<double, lanes, 1>;
  Row sum = Row::Zero();
  for (Eigen::Index j = 0; j < count; ++j) sum += Eigen::Map<const Row>(rows + j * lanes) * profile[j];
  Eigen::Map<Row>{sums} = sum;
}
template <int lanes>
void project_on_terms(const double* rows, Eigen::Index count, const double* one, const double* other, double* of_one,
                      double* of_other) {
  using Row = Eigen::Array<double, lanes, 1>;
  Row first = Row::Zero();
  Row second = Row::Zero();
  for (Eigen::Index j = 0; j < count; ++j) {
    const Row row = Eigen::Map<const Row>(rows + j * lanes);
    first += row * one[j];
    second += row * other[j];
  }
  Eigen::Map<Row>{of_one} = first;
  Eigen::Map<Row>{of_other} = second;
}

// The terms' sums of products with each other over every `count` consecutive rows of a table. From one such window to
// the next a row is added and one taken off; what that leaves of rounding is far below the ridge.
template <int lanes>
std::vector<TermsSquare> products_of_windows(const std::vector<double>& table, Eigen::Index count, Eigen::Index terms) {
  using Row = Eigen::Matrix<double, lanes, 1>;
  Eigen::Matrix<double, lanes, lanes> sum = Eigen::Matrix<double, lanes, lanes>::Zero();
  const auto add = [&](Eigen::Index at, double sign) {
    const Row row = Eigen::Map<const Row>(table.data() + at * lanes);
    for (int k = 0; k < lanes; ++k) sum.col(k) += row * (sign * row[k]);
  };
  const auto rows = static_cast<Eigen::Index>(table.size()) / lanes;
  std::vector<TermsSquare> windows;
  for (Eigen::Index at = 0; at < rows; ++at) {
    add(at, 1.0);
    if (at >= count) add(at - count, -1.0);
    if (at + 1 >= count) windows.emplace_back(sum.topLeftCorner(terms, terms));
  }
  return windows;
}

// W with W^T W the inverse of a positive definite matrix: its Cholesky factor's inverse, lower triangular.
TermsSquare whitener_of(const TermsSquare& matrix) {
  const Eigen::Index n = matrix.rows();
  constexpr double kTiny = 1e-30;  // never met: there is a ridge
  TermsSquare lower = TermsSquare::Zero(n, n);
  TermsSquare inverse = TermsSquare::Zero(n, n);
  for (Eigen::Index j = 0; j < n; ++j) {
    for (Eigen::Index i = j; i < n; ++i) {
      double rest = matrix(i, j);
      for (Eigen::Index k = 0; k < j; ++k) rest -= lower(i, k) * lower(j, k);
      lower(i, j) = i == j ? std::sqrt(std::max(rest, kTiny)) : rest / lower(j, j);
    }
    inverse(j, j) = 1.0 / lower(j, j);
    for (Eigen::Index c = 0; c < j; ++c) {
      double sum = 0.0;
      for (Eigen::Index k = c; k < j; ++k) sum += lower(j, k) * inverse(k, c);
      inverse(j, c) = -sum * inverse(j, j);
    }
  }
  return inverse;
}

// Least squares by two columns, from their products with each other and with what they shall explain; falls back to the
// larger one when they are alike.
struct TwoColumns {
  double aa = 0.0;
  double ab = 0.0;
  double bb = 0.0;
  [[nodiscard]] double misfit(double ay, double by, double whole) const {
    const double determinant = aa * bb - ab * ab;
    if (determinant > 1e-9 * aa * bb)
      return std::max(whole - (ay * (bb * ay - ab * by) + by * (aa * by - ab * ay)) / determinant, 0.0);
    const double larger = std::max(aa, bb);
    if (!(larger > 0.0)) return whole;
    const double product = aa >= bb ? ay : by;
    return std::max(whole - product * product / larger, 0.0);
  }
};

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
  smooth_ = orthonormal_basis(smooth);
  other_edges_.resize(columns_, 0);
  if (options.second_px <= 0.0) return;
  const double from = std::max(options.wall_px + options.second_px - options.range_px, first_px() + options.blur_px);
  const double to = std::min(options.wall_px + options.second_px + options.range_px, last_px() - options.blur_px);
  const auto edges = static_cast<Eigen::Index>(std::max(0.0, std::floor((to - from) / options.step_px + 1e-9) + 1.0));
  other_edges_.resize(columns_, edges);
  for (Eigen::Index k = 0; k < edges; ++k) {
    const double at = from + static_cast<double>(k) * options.step_px;
    VectorXd edge(columns_);
    for (int j = 0; j < columns_; ++j) edge[j] = blurred_step(first_px() + j * options.step_px - at, options.blur_px);
    edge -= smooth_ * (smooth_.transpose() * edge);
    other_edges_.col(k) = edge.normalized();
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
    std::vector<std::vector<double>> rows(static_cast<std::size_t>(terms.stride));
    for (Eigen::Index i = 0; i < distinct; ++i) {
      const TermsRow row = terms_at(first + static_cast<double>(i) * kPlaceStepPx, sigma, shading ? &*shading : nullptr,
                                    options_, curved);
      terms.count = static_cast<Eigen::Index>(row.count);
      terms.lanes = terms.count <= kFewLanes ? kFewLanes : kMostLanes;
      std::vector<double>& table = rows[static_cast<std::size_t>(i % terms.stride)];
      table.insert(table.end(), row.values.begin(), row.values.begin() + terms.lanes);
    }
    return rows;
  };
  terms.luma_rows = tables(options_.blur_px);
  terms.chroma_rows = tables(std::hypot(options_.blur_px, options_.chroma_blur_px));
  const Eigen::Index n = terms.count;
  const auto products_of = [&](const std::vector<std::vector<double>>& rows) {
    std::vector<std::vector<TermsSquare>> products;
    products.reserve(rows.size());
    for (const std::vector<double>& table : rows)
      products.push_back(terms.lanes == kFewLanes ? products_of_windows<kFewLanes>(table, columns_, n)
                                                  : products_of_windows<kMostLanes>(table, columns_, n));
    return products;
  };
  const auto luma_products = products_of(terms.luma_rows);
  const auto chroma_products = products_of(terms.chroma_rows);
  const auto append = [](std::vector<double>& to, const TermsSquare& square) {
    to.insert(to.end(), square.data(), square.data() + square.size());
  };
  for (Eigen::Index place = 0; place < terms.places; ++place) {
    const auto table = static_cast<std::size_t>(terms.table(place));
    const auto row = static_cast<std::size_t>(terms.first_row(place));
    // terms are of order one; the ridge only settles what the window cannot tell apart
    TermsSquare normal = luma_products[table][row];
    terms.ridges.push_back(1e-9 * normal.trace());
    normal.diagonal().array() += terms.ridges.back();
    append(terms.whiteners, whitener_of(normal));
    append(terms.chroma_products, chroma_products[table][row]);
  }
  return terms;
}

namespace {

// One block's profile against the model: the misfit of every channel at one place.
template <class Terms>
class Trial {
 public:
  Trial(const Terms& terms, const std::array<VectorXd, kChannels>& profile, ChannelRange channels)
      : terms_(terms), profile_(profile), channels_(channels), misfit_(terms.places, kChannels) {
    misfit_.setConstant(-1.0);
    for (int c = 0; c < channels.end; ++c)
      whole_[static_cast<std::size_t>(c)] = profile_[static_cast<std::size_t>(c)].squaredNorm();
  }

  void look(Eigen::Index place) {
    if (misfit_(place, 0) >= 0.0) return;
    if (terms_.lanes == kFewLanes) {
      look_with<kFewLanes>(place);
    } else {
      look_with<kMostLanes>(place);
    }
  }

  [[nodiscard]] double misfit(Eigen::Index place, int channel) const { return misfit_(place, channel); }

 private:
  using Row = std::array<double, kMostLanes>;

  const Terms& terms_;
  const std::array<VectorXd, kChannels>& profile_;
  ChannelRange channels_;
  std::array<double, kChannels> whole_{};  // sums of squares
  Eigen::Matrix<double, Eigen::Dynamic, kChannels> misfit_;

  template <int lanes>
  void look_with(Eigen::Index place) {
    Row projected;
    project_on_terms<lanes>(terms_.luma(place), terms_.columns, profile_[0].data(), projected.data());
    Row amounts{};
    const double explained = solve(place, projected, amounts);
    misfit_(place, 0) = std::max(whole_[0] - explained, 0.0);
    if (channels_.end == 1) return;
    const TwoColumns columns = chroma_columns(place, amounts);
    std::array<Row, 2> chroma;
    project_on_terms<lanes>(terms_.chroma(place), terms_.columns, profile_[1].data(), profile_[2].data(),
                            chroma[0].data(), chroma[1].data());
    const auto inside = static_cast<std::size_t>(terms_.count - terms_.outside);
    for (std::size_t c = 1; c < kChannels; ++c) {
      double blank = 0.0;
      double beside = 0.0;
      for (std::size_t t = 0; t < static_cast<std::size_t>(terms_.count); ++t)
        (t < inside ? blank : beside) += amounts[t] * chroma[c - 1][t];
      misfit_(place, static_cast<Eigen::Index>(c)) = columns.misfit(blank, beside, whole_[c]);
    }
  }

  // The terms' amounts in the luma; returns what they explain of its sum of squares. With W^T W the inverse of the
  // normal equations that is |W p|^2, less the ridge's part: squares that are added lose no digits.
  double solve(Eigen::Index place, const Row& projected, Row& amounts) const {
    const auto n = static_cast<std::size_t>(terms_.count);
    const double* whitener = terms_.whitener(place);
    double explained = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      double white = 0.0;
      for (std::size_t k = 0; k <= i; ++k) white += whitener[k * n + i] * projected[k];
      for (std::size_t k = 0; k <= i; ++k) amounts[k] += whitener[k * n + i] * white;
      explained += white * white;
    }
    double squares = 0.0;
    for (std::size_t k = 0; k < n; ++k) squares += amounts[k] * amounts[k];
    return explained + terms_.ridges[static_cast<std::size_t>(place)] * squares;
  }

  // What the blank, and what lies beside it, looks like through the chroma's blur.
  [[nodiscard]] TwoColumns chroma_columns(Eigen::Index place, const Row& amounts) const {
    const auto n = static_cast<std::size_t>(terms_.count);
    const std::size_t inside = n - static_cast<std::size_t>(terms_.outside);
    const double* products = terms_.products(place);
    TwoColumns columns;
    for (std::size_t i = 0; i < n; ++i) {
      double with_blank = 0.0;
      double with_beside = 0.0;
      for (std::size_t k = 0; k < inside; ++k) with_blank += products[i * n + k] * amounts[k];
      for (std::size_t k = inside; k < n; ++k) with_beside += products[i * n + k] * amounts[k];
      if (i < inside) {
        columns.aa += amounts[i] * with_blank;
        columns.ab += amounts[i] * with_beside;
      } else {
        columns.bb += amounts[i] * with_beside;
      }
    }
    return columns;
  }
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
      const double freedom = std::max(1.0, columns - 1.0 - (c == 0 ? static_cast<double>(terms.count) : 2.0));
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

double EdgeModel::misfit_without_edge(const std::array<VectorXd, kChannels>& profile,
                                      const std::array<double, kChannels>& variance, ChannelRange channels) const {
  double smooth = 0.0;
  VectorXd by_other = VectorXd::Zero(other_edges_.cols());
  for (int c = channels.first; c < channels.end; ++c) {
    const auto channel = static_cast<std::size_t>(c);
    const VectorXd& y = profile[channel];
    const double rest = std::max(y.squaredNorm() - (smooth_.transpose() * y).squaredNorm(), 0.0);
    smooth += rest / variance[channel];
    by_other += (other_edges_.transpose() * y).cwiseAbs2() / variance[channel];
  }
  return by_other.size() > 0 ? std::max(smooth - by_other.maxCoeff(), 0.0) : smooth;
}

EdgeFit EdgeModel::fit(const std::array<std::vector<double>, kChannels>& profile,
                       const std::array<double, kChannels>& noise, ChannelRange channels, Doubt doubt) const {
  std::array<VectorXd, kChannels> values;
  for (std::size_t c = 0; c < static_cast<std::size_t>(channels.end); ++c)
    values[c] = Eigen::Map<const VectorXd>(profile[c].data(), columns_);
  Trial<Terms> trial(places_terms_, values, channels);
  const Found found = search(trial, places_terms_, noise, channels, kRivals);
  const double without_edge = misfit_without_edge(values, found.variance, channels);
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
    Trial<Terms> plain(*plain_terms_, values, channels);
    fit.doubt_px = static_cast<double>(std::abs(search(plain, *plain_terms_, noise, channels, 0).place - found.place)) *
                   kPlaceStepPx;
  }
  return fit;
}

}  // namespace jigtrue
