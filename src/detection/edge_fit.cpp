#include "jigtrue/detection/edge_fit.hpp"

#include "jigtrue/base/decompositions.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "detection/edge_terms.hpp"
#include "detection/second_edge.hpp"
#include <Eigen/Dense>

namespace jigtrue {

struct EdgeModel::Tables {
  EdgeTerms terms;
  // A profile without the edge is smooth: an orthonormal basis.
  Eigen::Matrix<double, Eigen::Dynamic, 3> smooth;
  std::optional<SecondEdges> second;
};

namespace {

constexpr int kCoarse = 5;          // every fifth place is tried first
constexpr std::size_t kRivals = 2;  // other local minima that are told
constexpr double kQuantisationNoise =
    0.15;  // grey levels of a mean of rounded values; keeps a flat synthetic picture finite

using Profile = std::array<VectorXd, kChannels>;

// sums[t] = sum over rows of rows[row][t] * profile[row], for one profile or two: a row's terms lie side by side.
template <int lanes>
void project_one(const double* rows, Eigen::Index count, const double* profile, double* sums) {
  using Row = Eigen::Array<double, lanes, 1>;
  Row sum = Row::Zero();
  for (Eigen::Index j = 0; j < count; ++j) sum += Eigen::Map<const Row>(rows + j * lanes) * profile[j];
  Eigen::Map<Row>{sums} = sum;
}
template <int lanes>
void project_two(const double* rows, Eigen::Index count, const double* one, const double* other, double* of_one,
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

// What the blank, and what lies beside it, looks like through the chroma's blur.
TwoColumns chroma_columns(const TermSolver& solver, Eigen::Index place, const TermsRow& amounts) {
  const double* products = solver.products(place);
  TwoColumns columns;
  for (std::size_t i = 0; i < solver.count; ++i) {
    double with_blank = 0.0;
    double with_beside = 0.0;
    for (std::size_t k = 0; k < i; ++k)
      (k < solver.inside ? with_blank : with_beside) += products[packed(i, k)] * amounts[k];
    const double square = amounts[i] * amounts[i] * products[packed(i, i)];
    if (i < solver.inside) {
      columns.aa += 2.0 * amounts[i] * with_blank + square;
    } else {
      columns.ab += amounts[i] * with_blank;
      columns.bb += 2.0 * amounts[i] * with_beside + square;
    }
  }
  return columns;
}

// Products of a block's profile with the terms, found when first asked for.
class Projections {
 public:
  struct Place {
    TermsRow luma{};
    std::array<TermsRow, 2> chroma{};
    bool chroma_known = false;
  };

  Projections(const EdgeTerms& terms, const Profile& profile, ChannelRange channels)
      : terms_(terms), profile_(profile), index_(static_cast<std::size_t>(terms.places), kUnseen) {
    places_.reserve(index_.size());
    for (std::size_t c = 0; c < static_cast<std::size_t>(channels.end); ++c) whole_[c] = profile_[c].squaredNorm();
  }

  [[nodiscard]] const EdgeTerms& terms() const { return terms_; }
  [[nodiscard]] double whole(std::size_t channel) const { return whole_[channel]; }  // sum of squares

  const Place& luma(Eigen::Index place) { return seen(place); }
  const Place& luma_and_chroma(Eigen::Index place) {
    Place& there = seen(place);
    if (there.chroma_known) return there;
    there.chroma_known = true;
    const auto project = terms_.lanes == kFewTerms ? project_two<kFewTerms> : project_two<kMostTerms>;
    project(terms_.chroma(place), terms_.columns, profile_[1].data(), profile_[2].data(), there.chroma[0].data(),
            there.chroma[1].data());
    return there;
  }

 private:
  static constexpr std::size_t kUnseen = std::numeric_limits<std::size_t>::max();
  const EdgeTerms& terms_;
  const Profile& profile_;
  std::array<double, kChannels> whole_{};
  std::vector<std::size_t> index_;  // of each place
  std::vector<Place> places_;       // room for all: they stay where they are

  Place& seen(Eigen::Index place) {
    std::size_t& index = index_[static_cast<std::size_t>(place)];
    if (index != kUnseen) return places_[index];
    index = places_.size();
    Place& there = places_.emplace_back();
    const auto project = terms_.lanes == kFewTerms ? project_one<kFewTerms> : project_one<kMostTerms>;
    project(terms_.luma(place), terms_.columns, profile_[0].data(), there.luma.data());
    return there;
  }
};

// What some of the terms make of the luma with the edge at one place.
struct LumaSolution {
  TermsRow amounts{};        // of the terms
  double along_terms = 0.0;  // their product with the profile's products
  double explained = 0.0;    // of its sum of squares
};

// With W^T W the inverse of the normal equations |W p|^2 is explained, less the ridge's part: squares that are added
// lose no digits.
LumaSolution solve_luma(const TermSolver& solver, Eigen::Index place, const TermsRow& projected) {
  const double* whitener = solver.whitener(place);
  LumaSolution solution;
  for (std::size_t i = 0; i < solver.count; ++i) {
    double white = 0.0;
    for (std::size_t k = 0; k <= i; ++k) white += whitener[packed(i, k)] * projected[solver.picks[k]];
    for (std::size_t k = 0; k <= i; ++k) solution.amounts[k] += whitener[packed(i, k)] * white;
    solution.along_terms += white * white;
  }
  double squares = 0.0;
  for (std::size_t k = 0; k < solver.count; ++k) squares += solution.amounts[k] * solution.amounts[k];
  solution.explained = solution.along_terms + solver.ridge(place) * squares;
  return solution;
}

// One block's profile against some of the terms: the misfit of every channel at one place.
class Trial {
 public:
  Trial(const TermSolver& solver, Projections& profile, ChannelRange channels)
      : solver_(solver), profile_(profile), channels_(channels), misfit_(profile.terms().places, kChannels) {
    misfit_.setConstant(-1.0);
  }

  [[nodiscard]] const EdgeTerms& terms() const { return profile_.terms(); }
  [[nodiscard]] std::size_t luma_terms() const { return solver_.count; }
  [[nodiscard]] double misfit(Eigen::Index place, int channel) const { return misfit_(place, channel); }

  void look(Eigen::Index place) {
    if (misfit_(place, 0) >= 0.0) return;
    const LumaSolution luma = solve_luma(solver_, place, profile_.luma(place).luma);
    misfit_(place, 0) = std::max(profile_.whole(0) - luma.explained, 0.0);
    if (channels_.end > 1) look_at_chroma(place, luma.amounts);
  }

 private:
  const TermSolver& solver_;
  Projections& profile_;
  ChannelRange channels_;
  Eigen::Matrix<double, Eigen::Dynamic, kChannels> misfit_;

  void look_at_chroma(Eigen::Index place, const TermsRow& amounts) {
    const TwoColumns columns = chroma_columns(solver_, place, amounts);
    const std::array<TermsRow, 2>& projected = profile_.luma_and_chroma(place).chroma;
    for (std::size_t c = 1; c < kChannels; ++c) {
      double blank = 0.0;
      double beside = 0.0;
      for (std::size_t t = 0; t < solver_.count; ++t)
        (t < solver_.inside ? blank : beside) += amounts[t] * projected[c - 1][solver_.picks[t]];
      misfit_(place, static_cast<Eigen::Index>(c)) = columns.misfit(blank, beside, profile_.whole(c));
    }
  }
};

// A profile's products with a step at each place of the other edge, found when first asked for.
class StepProjection {
 public:
  StepProjection(const StepRows& rows, Eigen::Index places, const VectorXd& profile)
      : rows_(rows), profile_(profile), found_(static_cast<std::size_t>(places), std::nan("")) {}
  double at(Eigen::Index place) {
    double& found = found_[static_cast<std::size_t>(place)];
    if (std::isnan(found)) found = Eigen::Map<const VectorXd>(rows_.at(place), profile_.size()).dot(profile_);
    return found;
  }

 private:
  const StepRows& rows_;
  const VectorXd& profile_;
  std::vector<double> found_;
};

// What a second edge is looked for with: all terms, and the step's products with the profile.
struct SecondView {
  Projections& profile;
  std::vector<StepProjection>& steps;  // of every channel
  ChannelRange channels;

  [[nodiscard]] const TermSolver& solver() const { return profile.terms().all; }
};

// Where, among the places of the other edge, one lies this far beyond the first.
Eigen::Index step_at(Eigen::Index place, const SecondEdge& edge) {
  static_assert(kPlaceStepPx == 2.0 * kStepGridPx);
  return 2 * place + edge.steps_beyond;
}

// The luma with both edges. `amounts`: of the terms.
struct SecondLuma {
  TermsRow amounts{};
  double step = 0.0;  // amount of the other edge
  double misfit = 0.0;
};
SecondLuma with_second(const SecondView& view, const SecondEdge& edge, Eigen::Index place, const LumaSolution& first) {
  const TermSolver& solver = view.solver();
  const TermsRow& projected = view.profile.luma(place).luma;
  const double* by_terms = edge.by_terms.data() + static_cast<std::size_t>(place) * solver.count;
  double rest = view.steps[0].at(step_at(place, edge));
  for (std::size_t t = 0; t < solver.count; ++t) rest -= by_terms[t] * projected[t];
  SecondLuma luma;
  luma.step = rest / edge.rests[static_cast<std::size_t>(place)];
  double squares = luma.step * luma.step;
  for (std::size_t t = 0; t < solver.count; ++t) {
    luma.amounts[t] = first.amounts[t] - luma.step * by_terms[t];
    squares += luma.amounts[t] * luma.amounts[t];
  }
  const double explained = first.along_terms + luma.step * rest + solver.ridge(place) * squares;
  luma.misfit = std::max(view.profile.whole(0) - explained, 0.0);
  return luma;
}

// The same block against the model with another edge further out.
class SecondTrial {
 public:
  SecondTrial(const SecondView& view, const SecondEdge& edge)
      : view_(view), edge_(edge), misfit_(view.profile.terms().places, kChannels) {
    misfit_.setConstant(-1.0);
  }

  [[nodiscard]] const EdgeTerms& terms() const { return view_.profile.terms(); }
  [[nodiscard]] std::size_t luma_terms() const { return view_.solver().count + 1; }
  [[nodiscard]] double misfit(Eigen::Index place, int channel) const { return misfit_(place, channel); }

  void look(Eigen::Index place) {
    if (misfit_(place, 0) >= 0.0) return;
    const LumaSolution first = solve_luma(view_.solver(), place, view_.profile.luma(place).luma);
    const SecondLuma luma = with_second(view_, edge_, place, first);
    misfit_(place, 0) = luma.misfit;
    if (view_.channels.end > 1) look_at_chroma(place, luma);
  }

 private:
  const SecondView& view_;
  const SecondEdge& edge_;
  Eigen::Matrix<double, Eigen::Dynamic, kChannels> misfit_;

  void look_at_chroma(Eigen::Index place, const SecondLuma& luma) {
    const TermSolver& solver = view_.solver();
    TwoColumns columns = chroma_columns(solver, place, luma.amounts);
    const double* products = edge_.chroma_products.data() + static_cast<std::size_t>(place) * solver.count;
    double with_beside = 0.0;
    for (std::size_t t = 0; t < solver.count; ++t)
      (t < solver.inside ? columns.ab : with_beside) += luma.step * luma.amounts[t] * products[t];
    columns.bb += 2.0 * with_beside + luma.step * luma.step * edge_.chroma_squares[static_cast<std::size_t>(place)];
    const std::array<TermsRow, 2>& projected = view_.profile.luma_and_chroma(place).chroma;
    for (std::size_t c = 1; c < kChannels; ++c) {
      double blank = 0.0;
      double beside = luma.step * view_.steps[c].at(step_at(place, edge_));
      for (std::size_t t = 0; t < solver.count; ++t)
        (t < solver.inside ? blank : beside) += luma.amounts[t] * projected[c - 1][t];
      misfit_(place, static_cast<Eigen::Index>(c)) = columns.misfit(blank, beside, view_.profile.whole(c));
    }
  }
};

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

// Every place of a coarse grid first, then the neighbourhood of the best: channels are weighted by the least misfit
// that each has shown so far.
struct Found {
  Eigen::Index place = 0;
  std::vector<Eigen::Index> rivals;  // other local minima, best first
  std::array<double, kChannels> variance{};
  double cost = 0.0;
};

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
    for (Eigen::Index place = std::max(range.first, middle - kCoarse + 1);
         place < std::min(range.end, middle + kCoarse); ++place)
      if (place != middle) look(place);
  };
  for (Eigen::Index place = range.first; place < range.end; place += kCoarse) look(place);
  choose();
  const Eigen::Index middle = found.place;
  std::vector<Eigen::Index> basins;
  if (rivals_wanted > 0) {
    for (Eigen::Index place = range.first + kCoarse; place + kCoarse < range.end; place += kCoarse)
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
    if (place >= range.first && place < range.end) trial.look(place);
  return found;
}

// What is weighed of a search: the misfit of a place, channels by what they showed to be sure of.
template <class AnyTrial>
double cost_of(const AnyTrial& trial, Eigen::Index place, const std::array<double, kChannels>& variance,
               ChannelRange channels) {
  double cost = 0.0;
  for (int c = channels.first; c < channels.end; ++c)
    cost += trial.misfit(place, c) / variance[static_cast<std::size_t>(c)];
  return cost;
}

template <class AnyTrial>
EdgeFit describe(const AnyTrial& trial, const Found& found, double without_edge, const EdgeModelOptions& options,
                 const EdgeSearch& search) {
  // neighbouring profile values share pixels: about 1 / step of them are independent
  const double repeats = 1.0 / options.step_px;
  const auto cost = [&](Eigen::Index place) { return cost_of(trial, place, found.variance, search.channels); };
  const auto describe_place = [&](Eigen::Index place, bool inner) {
    EdgePlace edge{-options.range_px + static_cast<double>(place) * kPlaceStepPx, search.range_px,
                   without_edge / std::max(cost(place), 1e-9)};
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
  fit.gain = best.gain;
  fit.misfit = trial.misfit(found.place, 0) / static_cast<double>(trial.terms().columns);
  for (const Eigen::Index place : found.rivals) fit.rivals.push_back(describe_place(place, true));
  return fit;
}

// What a smooth profile leaves, channels by their variance.
double misfit_of_smooth(const Eigen::Matrix<double, Eigen::Dynamic, 3>& smooth, const Profile& profile,
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

// What a step by itself explains of a profile beyond what a smooth one does: squares, of each channel.
std::vector<std::array<double, kChannels>> explained_by_step_alone(
    const SecondEdges& second, const Eigen::Matrix<double, Eigen::Dynamic, 3>& smooth, const Profile& profile,
    ChannelRange channels) {
  std::vector<std::array<double, kChannels>> squares(second.alone.size());
  for (int c = channels.first; c < channels.end; ++c) {
    const auto channel = static_cast<std::size_t>(c);
    const VectorXd& y = profile[channel];
    const Vector3d by_smooth = smooth.transpose() * y;
    for (std::size_t k = 0; k < squares.size(); ++k) {
      const StepAlone& step = second.alone[k];
      const double product = Eigen::Map<const VectorXd>(second.luma.at(step.place), y.size()).dot(y);
      const double rest = product - step.by_smooth.dot(by_smooth);
      squares[k][channel] = rest * rest / step.square;
    }
  }
  return squares;
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

EdgeModel::EdgeModel(EdgeModel&&) noexcept = default;
EdgeModel::~EdgeModel() = default;

EdgeFit EdgeModel::fit(const std::array<std::vector<double>, kChannels>& profile,
                       const std::array<double, kChannels>& noise, const EdgeSearch& search, Doubt doubt) const {
  const ChannelRange channels = search.channels;
  if (channels.end > 1 && !options_.chroma) throw std::logic_error("an edge's model without chroma is asked for some");
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

std::optional<EdgeFit> EdgeModel::fit_with_second_edge(const std::array<std::vector<double>, kChannels>& profile,
                                                       const std::array<double, kChannels>& noise,
                                                       const EdgeSearch& search, const SecondEdgeGate& gate) const {
  if (!tables_->second) throw std::logic_error("an edge's model without a second edge is asked for one");
  const SecondEdges& second = *tables_->second;
  if (second.edges.empty()) return std::nullopt;
  const ChannelRange channels = search.channels;
  const Profile values = values_of(profile, columns_, channels);
  const PlaceRange range(tables_->terms.places, search.range_px);
  Projections projections(tables_->terms, values, channels);
  std::vector<StepProjection> steps;
  for (std::size_t c = 0; c < static_cast<std::size_t>(channels.end); ++c)
    steps.emplace_back(c == 0 ? second.luma : second.chroma, second.steps, values[c]);

  const SecondView view{projections, steps, channels};

  // Most profiles show no other edge, wherever the first one is supposed: the luma alone tells.
  std::vector<bool> may_pass(second.edges.size(), false);
  for (Eigen::Index place = range.first; place < range.end; ++place) {
    const LumaSolution first = solve_luma(tables_->terms.all, place, projections.luma(place).luma);
    for (std::size_t k = 0; k < second.edges.size(); ++k)
      if (!may_pass[k])
        may_pass[k] = with_second(view, second.edges[k], place, first).misfit < gate.below_misfit * columns_;
  }
  std::vector<std::array<double, kChannels>> alone;
  const auto most_by_step_alone = [&](double from_px, double to_px, const std::array<double, kChannels>& variance) {
    constexpr double kRounding = 1e-9;
    double most = 0.0;
    for (std::size_t k = 0; k < alone.size(); ++k) {
      if (second.alone[k].px < from_px - kRounding || second.alone[k].px > to_px + kRounding) continue;
      double explained = 0.0;
      for (int c = channels.first; c < channels.end; ++c)
        explained += alone[k][static_cast<std::size_t>(c)] / variance[static_cast<std::size_t>(c)];
      most = std::max(most, explained);
    }
    return most;
  };
  std::optional<EdgeFit> best;
  for (std::size_t k = 0; k < second.edges.size(); ++k) {
    if (!may_pass[k]) continue;
    const SecondEdge& edge = second.edges[k];
    SecondTrial trial(view, edge);
    const Found found = look_for_edge(trial, noise, channels, range, kRivals);
    if (alone.empty()) alone = explained_by_step_alone(second, tables_->smooth, values, channels);
    const double from_px = options_.wall_px + edge.beyond_px - search.range_px;
    const double without_edge =
        std::max(misfit_of_smooth(tables_->smooth, values, found.variance, channels) -
                     most_by_step_alone(from_px, from_px + 2.0 * search.range_px, found.variance),
                 0.0);
    EdgeFit fit = describe(trial, found, without_edge, options_, search);
    if (fit.gain < gate.smallest_gain || fit.at_rim || fit.misfit >= gate.below_misfit) continue;
    if (!best || fit.misfit < best->misfit) best = std::move(fit);
  }
  return best;
}

}  // namespace jigtrue
