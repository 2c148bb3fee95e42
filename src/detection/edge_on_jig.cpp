// EdgeModel::fit_on_jig: the model of edge_fit.hpp with the jig's own profile j(x) beside the blank,
//   outside  j(x) (b0 + b1 (x - e - w) [+ b2 (x - e - w)^2 beside a limb]) + b3 j'(x)
// b the light that the blank leaves there (its shade, what it throws back), b3 what the jig is registered wrongly by,
// held near zero. The chroma is its own level and slope inside, and the jig's times a factor and a cast outside. By the
// same measure the profile without an edge is either smooth, or the jig all over.
#include "jigtrue/image/sensor_range.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "detection/edge_tables.hpp"
#include "detection/edge_trial.hpp"
#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr Eigen::Index kEvery = 2;       // of the model's places
constexpr std::size_t kOtherPlaces = 2;  // other local minima that are told
constexpr double kSamePlace_px = 0.7;    // two minima nearer than an edge's own blur are one
constexpr int kMostColumns = 7;          // of any model here
using Misfits = std::array<double, kChannels>;

// Least squares by a few columns, from their products.
class FewColumns {
 public:
  explicit FewColumns(int count) : count_(count) { normal_.setZero(); }
  using Row = std::array<double, kMostColumns>;
  void add(const Row& row, double value) {
    for (int i = 0; i < count_; ++i) {
      for (int k = 0; k <= i; ++k) normal_(i, k) += row[static_cast<std::size_t>(i)] * row[static_cast<std::size_t>(k)];
      right_[i] += row[static_cast<std::size_t>(i)] * value;
    }
    whole_ += value * value;
  }
  // Sum of squares that they leave; the last one's coefficient is held near zero by `held`.
  [[nodiscard]] double left(double held) const {
    constexpr double kTiny = 1e-8;  // columns are of order one: settles what the window cannot tell apart
    Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMostColumns, kMostColumns> normal =
        normal_.topLeftCorner(count_, count_);
    normal.diagonal().array() += kTiny;
    normal(count_ - 1, count_ - 1) += held;
    const Eigen::LLT<decltype(normal), Eigen::Lower> factor(normal);
    return std::max(whole_ - factor.matrixL().solve(right_.head(count_)).squaredNorm(), 0.0);
  }

 private:
  int count_;
  Eigen::Matrix<double, kMostColumns, kMostColumns> normal_;
  Eigen::Matrix<double, kMostColumns, 1> right_ = Eigen::Matrix<double, kMostColumns, 1>::Zero();
  double whole_ = 0.0;
};

class OnJig {
 public:
  OnJig(const EdgeTerms& terms, const EdgeModelOptions& options, const Profile& values, const JigProfile& jig,
        const std::array<double, kChannels>& noise, ChannelRange channels)
      : terms_(terms), options_(options), values_(values), channels_(channels) {
    constexpr double kLeastSigma_px = 0.02;  // what interpolation leaves of a place
    for (std::size_t c = 0; c < static_cast<std::size_t>(channels.end); ++c)
      jig_[c] = Eigen::Map<const VectorXd>(jig.values[c].data(), terms.columns);
    const double level = std::max(jig_[0].mean(), kDarkest);
    jig_[0] /= level;
    by_px_ = VectorXd::Zero(terms.columns);
    for (Eigen::Index j = 1; j + 1 < terms.columns; ++j)
      by_px_[j] = (jig_[0][j + 1] - jig_[0][j - 1]) / (2.0 * options.step_px);
    const double floor = std::hypot(noise[0], kQuantisationNoise);
    const double off = level * std::max(jig.place_sigma_px, kLeastSigma_px);
    held_ = floor * floor / (off * off);
  }

  // With the edge at this place and the jig beside it.
  [[nodiscard]] Misfits with_edge(Eigen::Index place) const { return misfits(place, true); }
  // With anything smooth beside it.
  [[nodiscard]] Misfits with_plain_edge(Eigen::Index place) const { return misfits(place, false); }

  // The jig all over.
  [[nodiscard]] Misfits without_blank() const {
    const bool curved = static_cast<std::size_t>(terms_.count) - terms_.all.inside > 2;
    FewColumns luma(curved ? 4 : 3);
    for (Eigen::Index j = 0; j < terms_.columns; ++j) {
      const double x = x_at(j);
      FewColumns::Row row{jig_[0][j], jig_[0][j] * x};
      if (curved) row[2] = jig_[0][j] * x * x;
      row[curved ? 3 : 2] = by_px_[j];
      luma.add(row, values_[0][j]);
    }
    Misfits left{};
    left[0] = luma.left(held_);
    for (std::size_t c = 1; c < static_cast<std::size_t>(channels_.end); ++c) {
      FewColumns cast(2);
      for (Eigen::Index j = 0; j < terms_.columns; ++j) cast.add({jig_[c][j], 1.0}, values_[c][j]);
      left[c] = cast.left(0.0);
    }
    return left;
  }

  // Smooth all over.
  [[nodiscard]] Misfits without_edge(const SmoothBasis& smooth) const {
    Misfits left{};
    for (std::size_t c = 0; c < static_cast<std::size_t>(channels_.end); ++c)
      left[c] = std::max(values_[c].squaredNorm() - (smooth.transpose() * values_[c]).squaredNorm(), 0.0);
    return left;
  }

  [[nodiscard]] double freedom(std::size_t channel) const {
    const double used = channel == 0 ? static_cast<double>(terms_.count) + 1.0 : 4.0;
    return std::max(1.0, static_cast<double>(terms_.columns) - 1.0 - used);
  }

 private:
  const EdgeTerms& terms_;
  const EdgeModelOptions& options_;
  const Profile& values_;
  ChannelRange channels_;
  std::array<VectorXd, kChannels> jig_;  // the luma's over its mean
  VectorXd by_px_;                       // the luma's slope
  double held_ = 0.0;

  [[nodiscard]] double x_at(Eigen::Index column) const {
    return (-options_.inside_px + static_cast<double>(column) * options_.step_px) / kSlopeScalePx;
  }

  [[nodiscard]] Misfits misfits(Eigen::Index place, bool jig) const {
    const std::size_t inside = terms_.all.inside;
    const auto count = static_cast<std::size_t>(terms_.count);
    FewColumns luma(static_cast<int>(count) + (jig ? 1 : 0));
    const double* rows = terms_.luma(place);
    for (Eigen::Index j = 0; j < terms_.columns; ++j, rows += kMostTerms) {
      FewColumns::Row row{};
      for (std::size_t k = 0; k < count; ++k) row[k] = rows[k] * (jig && k >= inside ? jig_[0][j] : 1.0);
      if (jig) row[count] = rows[inside] * by_px_[j];
      luma.add(row, values_[0][j]);
    }
    Misfits left{};
    left[0] = luma.left(jig ? held_ : 0.0);
    if (channels_.end < 2) return left;
    std::array<FewColumns, 2> chroma{FewColumns(4), FewColumns(4)};
    rows = terms_.chroma(place);
    for (Eigen::Index j = 0; j < terms_.columns; ++j, rows += kMostTerms)
      for (std::size_t c = 0; c < 2; ++c)
        chroma[c].add({rows[0], rows[1], rows[inside], jig ? rows[inside] * jig_[c + 1][j] : rows[inside + 1]},
                      values_[c + 1][j]);
    for (std::size_t c = 0; c < 2; ++c) left[c + 1] = chroma[c].left(0.0);
    return left;
  }
};

double in_all_channels(const Misfits& left, const std::array<double, kChannels>& variance) {
  double sum = 0.0;
  for (std::size_t c = 0; c < kChannels; ++c) sum += variance[c] > 0.0 ? left[c] / variance[c] : 0.0;
  return std::max(sum, 1e-9);
}

bool is_plainer(const EdgePlace& a, const EdgePlace& b) { return a.misfit_ratio > b.misfit_ratio; }

}  // namespace

EdgeFit EdgeModel::fit_on_jig(const std::array<std::vector<double>, kChannels>& profile,
                              const std::array<double, kChannels>& noise, const EdgeSearch& search,
                              const JigProfile& jig, const EdgeFit& plain) const {
  const EdgeTerms& terms = tables_->terms;
  Profile values;
  for (std::size_t c = 0; c < static_cast<std::size_t>(search.channels.end); ++c)
    values[c] = Eigen::Map<const VectorXd>(profile[c].data(), terms.columns);
  const OnJig trial(terms, options_, values, jig, noise, search.channels);
  const Eigen::Index middle = terms.places / 2;
  const auto place_at = [&](double px) {
    return std::clamp<Eigen::Index>(middle + std::lround(px / kPlaceStepPx), 0, terms.places - 1);
  };
  const Eigen::Index reach = std::min<Eigen::Index>(std::lround(search.range_px / kPlaceStepPx), middle) / kEvery;
  std::vector<Misfits> looked;
  looked.reserve(static_cast<std::size_t>(2 * reach + 1));
  for (Eigen::Index k = -reach; k <= reach; ++k) looked.push_back(trial.with_edge(middle + k * kEvery));
  const Misfits at_plain = trial.with_plain_edge(place_at(plain.position_px));
  const Misfits bare = trial.without_blank();
  std::array<double, kChannels> variance{};
  for (std::size_t c = 0; c < static_cast<std::size_t>(search.channels.end); ++c) {
    double least = std::min(at_plain[c], bare[c]);
    for (const Misfits& left : looked) least = std::min(least, left[c]);
    const double floor = std::hypot(noise[c], kQuantisationNoise);
    variance[c] = std::max(least / trial.freedom(c), floor * floor);
  }
  std::vector<double> costs;
  costs.reserve(looked.size());
  for (const Misfits& left : looked) costs.push_back(in_all_channels(left, variance));
  const double bare_cost = in_all_channels(bare, variance);
  const double without_edge = std::min(bare_cost, in_all_channels(trial.without_edge(tables_->smooth), variance));

  std::vector<EdgePlace> places;
  for (std::size_t k = 1; k + 1 < costs.size(); ++k) {
    constexpr double kStep_px = static_cast<double>(kEvery) * kPlaceStepPx;  // between the places that are looked at
    const double curvature = costs[k - 1] - 2.0 * costs[k] + costs[k + 1];
    if (costs[k] > costs[k - 1] || costs[k] >= costs[k + 1] || curvature < 1e-12) continue;
    EdgePlace place;
    place.position_px = kStep_px * (static_cast<double>(k) - static_cast<double>(reach) +
                                    std::clamp(0.5 * (costs[k - 1] - costs[k + 1]) / curvature, -1.0, 1.0));
    // neighbouring profile values share pixels: about 1 / step of them are independent
    place.sigma_px = std::min(search.range_px, kStep_px * std::sqrt(2.0 / options_.step_px / curvature));
    place.misfit_ratio = without_edge / costs[k];
    double left = 0.0;
    for (const double channel : looked[k]) left += channel;
    place.strength = std::sqrt(std::max(place.misfit_ratio - 1.0, 0.0) * left / static_cast<double>(terms.columns));
    places.push_back(place);
  }
  std::stable_sort(places.begin(), places.end(), is_plainer);
  if (places.size() > 1 + kOtherPlaces) places.resize(1 + kOtherPlaces);

  // what was seen without knowing the jig, as far as the jig leaves it anything to explain
  const double plain_cost = in_all_channels(at_plain, variance);
  const auto keep = [&](EdgePlace place) {
    const double unexplained = bare_cost / plain_cost * place.misfit_ratio / std::max(plain.misfit_ratio, 1e-9);
    place.misfit_ratio = std::min(place.misfit_ratio, unexplained);
    const auto same = std::find_if(places.begin(), places.end(), [&](const EdgePlace& other) {
      return std::abs(other.position_px - place.position_px) < kSamePlace_px;
    });
    if (same == places.end())
      places.push_back(place);
    else if (same->misfit_ratio < place.misfit_ratio)
      *same = place;
  };
  if (!plain.at_rim) keep({plain.position_px, plain.sigma_px, plain.misfit_ratio, plain.strength});
  for (const EdgePlace& rival : plain.rivals) keep(rival);

  std::stable_sort(places.begin(), places.end(), is_plainer);

  EdgeFit fit = plain;
  fit.rivals.clear();
  fit.at_rim = places.empty();
  if (places.empty()) return fit;
  const EdgePlace& best = places.front();
  fit.position_px = best.position_px;
  fit.sigma_px = best.sigma_px;
  fit.misfit_ratio = best.misfit_ratio;
  fit.strength = best.strength;
  fit.rivals.assign(places.begin() + 1, places.end());
  return fit;
}

}  // namespace jigtrue
