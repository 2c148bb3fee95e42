#include "jigtrue/detection/edge_fit.hpp"

#include "jigtrue/base/decompositions.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "detection/edge_tables.hpp"
#include "detection/edge_trial.hpp"
#include "detection/second_trial.hpp"
#include <Eigen/Dense>

namespace jigtrue {

namespace {

constexpr int kCoarse = 5;          // every fifth place is tried first
constexpr std::size_t kRivals = 2;  // other local minima that are told

// Places [first, end) of a model's table: those within the range that was asked for.
struct PlaceRange {
  Eigen::Index first;
  Eigen::Index end;
  PlaceRange(Eigen::Index places, double range_px) {
    const Eigen::Index middle = places / 2;
    const Eigen::Index reach = std::lround(range_px / kPlaceStepPx);
    if (reach > middle) throw std::logic_error("an edge is looked for further away than its model reaches");
    first = middle - reach;
    end = middle + reach + 1;
  }
  [[nodiscard]] bool at_rim(Eigen::Index place) const { return place == first || place == end - 1; }
};

// What is weighed of a search: the misfit of a place, channels by what they showed to be sure of.
template <class AnyTrial>
double cost_of(const AnyTrial& trial, Eigen::Index place, const std::array<double, kChannels>& variance,
               ChannelRange channels) {
  double cost = 0.0;
  for (int c = channels.first; c < channels.end; ++c)
    cost += trial.misfit(place, c) / variance[static_cast<std::size_t>(c)];
  return cost;
}

// Every place of a coarse grid first, then the neighbourhood of the best: channels are weighted by the least misfit
// that each has shown so far.
struct Found {
  Eigen::Index place = 0;
  std::vector<Eigen::Index> rivals;  // other local minima, best first
  std::array<double, kChannels> variance{};
  double cost = 0.0;
};

// Local minima of the coarse grid apart from its best place: the few least, least first.
template <class Cost>
std::vector<Eigen::Index> other_basins(const Cost& cost_at, const PlaceRange& range, Eigen::Index best,
                                       std::size_t wanted) {
  std::vector<Eigen::Index> basins;
  if (wanted == 0) return basins;
  for (Eigen::Index place = range.first + kCoarse; place + kCoarse < range.end; place += kCoarse)
    if (std::abs(place - best) > kCoarse && cost_at(place) < cost_at(place - kCoarse) &&
        cost_at(place) < cost_at(place + kCoarse))
      basins.push_back(place);
  std::stable_sort(basins.begin(), basins.end(),
                   [&](Eigen::Index a, Eigen::Index b) { return cost_at(a) < cost_at(b); });
  if (basins.size() > wanted) basins.resize(wanted);
  return basins;
}

template <class AnyTrial>
Found look_for_edge(AnyTrial& trial, const std::array<double, kChannels>& noise, ChannelRange channels,
                    const PlaceRange& range, std::size_t rivals_wanted) {
  const EdgeTerms& terms = trial.terms();
  const auto columns = static_cast<double>(terms.columns);
  std::vector<Eigen::Index> looked;
  auto look = [&](Eigen::Index place) {
    trial.look(place);
    looked.push_back(place);
  };
  Found found;
  const auto cost_at = [&](Eigen::Index place) { return cost_of(trial, place, found.variance, channels); };
  auto choose = [&] {
    for (int c = channels.first; c < channels.end; ++c) {
      const double freedom = std::max(1.0, columns - 1.0 - (c == 0 ? static_cast<double>(trial.luma_terms()) : 2.0));
      double least = trial.misfit(looked.front(), c);
      for (const Eigen::Index place : looked) least = std::min(least, trial.misfit(place, c));
      const double floor = std::hypot(noise[static_cast<std::size_t>(c)], kQuantisationNoise);
      found.variance[static_cast<std::size_t>(c)] = std::max(least / freedom, floor * floor);
    }
    found.cost = -1.0;
    for (const Eigen::Index place : looked) {
      const double cost = cost_at(place);
      if (found.cost >= 0.0 && cost >= found.cost) continue;
      found.cost = cost;
      found.place = place;
    }
  };
  auto look_around = [&](Eigen::Index middle) {
    for (Eigen::Index place = std::max(range.first, middle - kCoarse + 1);
         place < std::min(range.end, middle + kCoarse); ++place)
      if (place != middle) look(place);
  };
  for (Eigen::Index place = range.first; place < range.end; place += kCoarse) look(place);
  choose();
  const Eigen::Index middle = found.place;
  const std::vector<Eigen::Index> basins = other_basins(cost_at, range, middle, rivals_wanted);
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
    if (place >= range.first && place < range.end) trial.look(place);
  return found;
}

template <class AnyTrial>
EdgeFit describe(const AnyTrial& trial, const Found& found, double without_edge, const EdgeModelOptions& options,
                 const EdgeSearch& search) {
  // neighbouring profile values share pixels: about 1 / step of them are independent
  const double repeats = 1.0 / options.step_px;
  const auto cost = [&](Eigen::Index place) { return cost_of(trial, place, found.variance, search.channels); };
  const auto describe_place = [&](Eigen::Index place, bool inner) {
    EdgePlace edge{-options.range_px + static_cast<double>(place) * kPlaceStepPx, search.range_px,
                   without_edge / std::max(cost(place), 1e-9), 0.0};
    double left = 0.0;  // by the model, grey levels squared
    for (int c = search.channels.first; c < search.channels.end; ++c) left += trial.misfit(place, c);
    edge.strength = std::sqrt(std::max(edge.misfit_ratio - 1.0, 0.0) * std::max(left, 0.0) /
                              static_cast<double>(trial.terms().columns));
    if (!inner) return edge;
    const double below = cost(place - 1);
    const double above = cost(place + 1);
    const double curvature = below - 2.0 * cost(place) + above;
    if (curvature > 1e-12) {
      edge.position_px += kPlaceStepPx * std::clamp(0.5 * (below - above) / curvature, -1.0, 1.0);
      edge.sigma_px = std::min(search.range_px, kPlaceStepPx * std::sqrt(2.0 * repeats / curvature));
    }
    return edge;
  };
  EdgeFit fit;
  fit.at_rim = PlaceRange(trial.terms().places, search.range_px).at_rim(found.place);
  const EdgePlace best = describe_place(found.place, !fit.at_rim);
  fit.position_px = best.position_px;
  fit.sigma_px = best.sigma_px;
  fit.misfit_ratio = best.misfit_ratio;
  fit.strength = best.strength;
  fit.misfit = trial.misfit(found.place, 0) / static_cast<double>(trial.terms().columns);
  for (const Eigen::Index place : found.rivals) fit.rivals.push_back(describe_place(place, true));
  return fit;
}

// What a smooth profile leaves, channels by their variance.
double misfit_of_smooth(const SmoothBasis& smooth, const Profile& profile,
                        const std::array<double, kChannels>& variance, ChannelRange channels) {
  double misfit = 0.0;
  for (int c = channels.first; c < channels.end; ++c) {
    const auto channel = static_cast<std::size_t>(c);
    const VectorXd& y = profile[channel];
    misfit += std::max(y.squaredNorm() - (smooth.transpose() * y).squaredNorm(), 0.0) / variance[channel];
  }
  return misfit;
}

Profile values_of(const std::array<std::vector<double>, kChannels>& profile, Eigen::Index columns,
                  ChannelRange channels) {
  Profile values;
  for (std::size_t c = 0; c < static_cast<std::size_t>(channels.end); ++c)
    values[c] = Eigen::Map<const VectorXd>(profile[c].data(), columns);
  return values;
}

// The further one of two edges with no wall between. Its place is as sure as the nearer one's and as the distances that
// were tried.
std::optional<EdgePlace> further_edge(const EdgeFit& nearer, double beyond_px, double alone_misfit, double range_px) {
  constexpr double kBetweenDistances_px = 0.25;  // standard deviation: they are 0.75 to 1.5 px apart
  const double position_px = nearer.position_px + beyond_px;
  if (std::abs(position_px) >= range_px || !(nearer.misfit > 0.0)) return std::nullopt;
  return EdgePlace{position_px, std::hypot(nearer.sigma_px, kBetweenDistances_px), alone_misfit / nearer.misfit,
                   std::sqrt(std::max(alone_misfit - nearer.misfit, 0.0))};
}

void require_tables_for(const EdgeModelOptions& options, ChannelRange channels) {
  if (channels.end > 1 && !options.chroma) throw std::logic_error("an edge's model without chroma is asked for some");
}

}  // namespace

EdgeModel::EdgeModel(const EdgeModelOptions& options) : options_(options) {
  Tables tables;
  tables.terms = tabulate_terms(options);
  columns_ = static_cast<int>(tables.terms.columns);
  MatrixXd smooth(columns_, 3);
  for (int j = 0; j < columns_; ++j) {
    const double x = (first_px() + j * options.step_px) / kSlopeScalePx;
    smooth.row(j) << 1.0, x, x * x;
  }
  tables.smooth = orthonormal_basis(smooth);
  if (options.second_edges) tables.second = tabulate_second_edges(options, tables.terms, tables.smooth);
  tables_ = std::make_unique<const Tables>(std::move(tables));
}

EdgeModel::~EdgeModel() = default;

EdgeFit EdgeModel::fit(const std::array<std::vector<double>, kChannels>& profile,
                       const std::array<double, kChannels>& noise, const EdgeSearch& search, Doubt doubt) const {
  const ChannelRange channels = search.channels;
  require_tables_for(options_, channels);
  const Profile values = values_of(profile, columns_, channels);
  const PlaceRange range(tables_->terms.places, search.range_px);
  Projections projections(tables_->terms, values, channels);
  Trial trial(tables_->terms.all, projections, channels);
  const Found found = look_for_edge(trial, noise, channels, range, kRivals);
  EdgeFit fit =
      describe(trial, found, misfit_of_smooth(tables_->smooth, values, found.variance, channels), options_, search);
  if (doubt == Doubt::measured && tables_->terms.unshaded) {
    Trial unshaded(*tables_->terms.unshaded, projections, channels);
    const Found without_shading = look_for_edge(unshaded, noise, channels, range, 0);
    fit.doubt_px = static_cast<double>(std::abs(without_shading.place - found.place)) * kPlaceStepPx;
  }
  return fit;
}

std::optional<TwoEdges> EdgeModel::fit_with_second_edge(const std::array<std::vector<double>, kChannels>& profile,
                                                        const std::array<double, kChannels>& noise,
                                                        const EdgeSearch& search, const SecondEdgeGate& gate) const {
  if (!tables_->second) throw std::logic_error("an edge's model without a second edge is asked for one");
  require_tables_for(options_, search.channels);
  const Profile values = values_of(profile, columns_, search.channels);
  const PlaceRange range(tables_->terms.places, search.range_px);
  Projections projections(tables_->terms, values, search.channels);
  SecondView view(projections, *tables_->second, values, search.channels);
  const double below_misfit = gate.alone_misfit / gate.least_gain;
  // Most profiles show no other edge, wherever the first one is supposed: the luma alone tells.
  const std::vector<bool> may_pass = may_leave_less(view, range.first, range.end, below_misfit * columns_);
  std::optional<AloneSteps> alone;
  std::optional<TwoEdges> best;
  for (std::size_t k = 0; k < may_pass.size(); ++k) {
    if (!may_pass[k]) continue;
    const SecondEdge& edge = tables_->second->edges[k];
    SecondTrial trial(view, edge);
    const Found found = look_for_edge(trial, noise, search.channels, range, kRivals);
    if (!alone) alone.emplace(view, values, tables_->smooth);
    const double middle_px = options_.wall_px + edge.beyond_px;
    const double without_edge =
        misfit_of_smooth(tables_->smooth, values, found.variance, search.channels) -
        alone->most_explained(middle_px - search.range_px, middle_px + search.range_px, found.variance);
    TwoEdges pair{describe(trial, found, std::max(without_edge, 0.0), options_, search), false, std::nullopt};
    if (pair.fit.misfit >= below_misfit || (best && pair.fit.misfit >= best->fit.misfit)) continue;
    pair.nearer_passes = pair.fit.misfit_ratio >= gate.smallest_ratio && !pair.fit.at_rim;
    if (gate.either && options_.wall_px <= 0.0)
      pair.further = further_edge(pair.fit, edge.beyond_px, gate.alone_misfit, search.range_px);
    if (pair.nearer_passes || pair.further) best = std::move(pair);
  }
  return best;
}

}  // namespace jigtrue
