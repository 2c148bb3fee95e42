#include "jigtrue/detection/outline_fit.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/detection/row_mean.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr double kProfileStepPx = 0.5;
constexpr double kSampleSpacingPx = 2.0;
constexpr double kSmallestGain = 1.6;    // an edge must leave clearly less misfit than a smooth profile
constexpr double kTextureSigmaPx = 0.1;  // block noise that the fit of one profile does not know of
constexpr int kRounds = 3;

double middle(const std::vector<double>& values) { return median(values).value_or(0.0); }

ChannelRange all_channels(const Photo& photo) { return {0, photo.has_colour() ? kChannels : 1}; }

bool is_side(OutlinePart part) { return part == OutlinePart::left || part == OutlinePart::right; }

int block_count(OutlinePart part, std::size_t samples, bool disc) {
  const int wanted = static_cast<int>(samples) / 10;
  if (disc) return std::clamp(wanted, 3, 8);
  return is_side(part) ? std::clamp(wanted, 4, 16) : std::clamp(wanted, 2, 5);
}

// Windows shrink on slim blanks so that they do not reach the far side; radii are rounded so that tables are shared.
// A wall narrower than the blur cannot be told from the edge itself; one that fills the window is just what lies
// outside.
constexpr double kNarrowestWallPx = 0.6;
constexpr double kWidestWallPx = 9.0;
constexpr double kBesideWallPx = 3.5;
// So much that a true wall would show beside an edge that was taken for the wall's foot.
constexpr double kSeenBesideWallPx = 4.0;

// Windows for a picture of this blur: wide enough for the blurred edge and a little of what lies on either side.
struct Reach {
  double inside_px;
  double outside_px;
};
Reach reach_for(double blur_px) {
  return {std::ceil(std::max(8.0, 5.0 * blur_px + 3.0)), std::ceil(std::max(5.0, 3.0 * blur_px + 2.0))};
}

// A slim blank's window does not reach its far side.
double inside_px_for(double radius_px, const Reach& reach) {
  return radius_px > 0.0 ? std::clamp(std::floor(0.75 * radius_px), 3.0, reach.inside_px) : reach.inside_px;
}

EdgeModelOptions model_options(double radius_px, double wall_px, const PictureBlur& blur, const Reach& reach,
                               double range_px) {
  EdgeModelOptions options;
  options.blur_px = blur.luma_px;
  options.chroma_blur_px = blur.chroma_px;
  options.step_px = kProfileStepPx;
  options.range_px = range_px;
  options.inside_px = inside_px_for(radius_px, reach);
  options.outside_px = reach.outside_px;
  if (radius_px <= 0.0 && wall_px >= kNarrowestWallPx && wall_px <= kWidestWallPx) {
    options.wall_px = std::round(4.0 * wall_px) / 4.0;
    const double beside_px =
        std::max(kBesideWallPx, std::min(options.wall_px, kSeenBesideWallPx) + 2.0 * blur.luma_px + 1.0);
    options.outside_px = std::max(options.outside_px, std::ceil(options.wall_px + beside_px));
  }
  if (radius_px > 0.0) options.radius_px = std::exp(std::round(std::log(radius_px) / 0.08) * 0.08);
  return options;
}

// The window cut down to the edge itself.
constexpr double kPlainGain = 4.0;  // with less the narrow window is tried too
EdgeModelOptions narrowed(EdgeModelOptions options, double blur_px) {
  options.inside_px = std::min(options.inside_px, std::ceil(3.0 * blur_px + 2.0));
  options.outside_px = std::ceil(options.wall_px + 2.0 * blur_px + 1.0);
  options.second_edges = false;
  return options;
}

EdgeBlock make_block(const std::vector<OutlineSample>& samples, std::size_t from, std::size_t to) {
  EdgeBlock block;
  const double n = static_cast<double>(to - from);
  for (std::size_t i = from; i < to; ++i) {
    block.station_mm += samples[i].station_mm / n;
    block.point_mm += samples[i].point_mm / n;
    block.px += samples[i].px / n;
    block.normal_px += samples[i].normal_px / n;
    block.by_place += samples[i].by_place / n;
  }
  block.normal_px.normalize();
  block.part = samples[from].part;
  block.rim = samples[from + (to - from) / 2].rim;
  return block;
}

std::vector<EdgePlace> places_of(const EdgeFit& edge) {
  std::vector<EdgePlace> places;
  if (!edge.at_rim) places.push_back({edge.position_px, edge.sigma_px, edge.gain, edge.strength});
  places.insert(places.end(), edge.rivals.begin(), edge.rivals.end());
  std::erase_if(places, [](const EdgePlace& place) { return place.gain < kSmallestGain; });
  return places;
}

// Mean of a profile's channels between two distances from the edge.
std::array<double, kChannels> level_of(const MeanProfile& profile, double first_px, double from_px, double to_px) {
  std::array<double, kChannels> levels{};
  for (std::size_t c = 0; c < kChannels; ++c) {
    int count = 0;
    for (std::size_t j = 0; j < profile.values[c].size(); ++j) {
      const double x = first_px + static_cast<double>(j) * kProfileStepPx;
      if (x < from_px || x > to_px) continue;
      levels[c] += profile.values[c][j];
      ++count;
    }
    if (count > 0) levels[c] /= count;
  }
  return levels;
}

// Rows of a strip, averaged, in the window of a model.
struct Rows {
  RowMean mean;
  double first_px;
  Rows(const Strip& strip, int from, int to) : mean(strip, from, to), first_px(strip.first_px) {}
  [[nodiscard]] MeanProfile in_window_of(const EdgeModel& model) const {
    const auto first = static_cast<int>(std::lround((model.first_px() - first_px) / kProfileStepPx));
    return mean.window(first, model.columns());
  }
};

EdgeFit fitted(const EdgeModel& model, const MeanProfile& profile, const EdgeSearch& search) {
  return model.fit(profile.values, profile.noise, search);
}

// Fills what a block measures: its edge, where else that may lie, and what lies on either side.
constexpr double kSecondEdgeTells = 2.5;  // it must leave so much less than the blank's edge alone
void measure_edge(EdgeBlock& block, const Rows& rows, EdgeModelOptions asked, double wall_px, const EdgeSearch& search,
                  EdgeModelStore& models) {
  asked.chroma = search.channels.end > 1;
  const std::shared_ptr<const EdgeModel> kept = models.get(asked);
  const EdgeModel& model = *kept;
  const MeanProfile profile = rows.in_window_of(model);
  block.edge = fitted(model, profile, search);
  const double whole_misfit = block.edge.misfit;
  if (block.edge.gain < kPlainGain) {
    // something else may lie in the window (a pocket's wall): look at the edge alone
    const std::shared_ptr<const EdgeModel> narrow = models.get(narrowed(asked, asked.blur_px));
    const EdgeFit edge = fitted(*narrow, rows.in_window_of(*narrow), search);
    const double apart_px = std::abs(edge.position_px - block.edge.position_px);
    if (edge.gain > block.edge.gain) block.edge = edge;
    block.edge.doubt_px = std::max(block.edge.doubt_px, apart_px);
  }
  block.inside = level_of(profile, model.first_px(), -5.0, -1.5);
  block.outside = level_of(profile, model.first_px(), wall_px + 1.5, wall_px + 5.0);
  block.places = places_of(block.edge);
  if (asked.radius_px > 0.0) return;
  const auto with_second = model.fit_with_second_edge(profile.values, profile.noise, search,
                                                      {kSmallestGain, whole_misfit / kSecondEdgeTells});
  if (!with_second) return;
  if (block.edge.gain < kPlainGain) {
    block.edge = *with_second;
    block.places = places_of(block.edge);
  } else {
    const double apart_px = std::abs(with_second->position_px - block.edge.position_px);
    block.places.push_back({with_second->position_px, with_second->sigma_px, with_second->gain, with_second->strength});
    block.edge.doubt_px = std::max(block.edge.doubt_px, apart_px);
  }
}

// A stretch of the outline that is measured as one, with what is known of its edge beforehand.
struct Stretch {
  EdgeBlock block;
  std::size_t from;
  std::size_t to;  // of the part's samples
  EdgeModelOptions options;
  double wall_px;
};

struct PartStretches {
  std::vector<OutlineSample> samples;
  std::vector<Stretch> stretches;
};

// A wall's foot is as plain an edge as its head: who starts at the one must be able to see the other.
double range_with_wall_px(const EdgeModelOptions& options, double range_px) {
  constexpr double kBeyondWallPx = 2.0;
  constexpr double kLeftInsidePx = 3.0;  // of the window, with the edge at the range's end
  if (options.wall_px <= 0.0) return range_px;
  const double wanted_px = std::min(options.wall_px + kBeyondWallPx, options.inside_px - kLeftInsidePx);
  return std::max(range_px, std::floor(2.0 * wanted_px) / 2.0);
}

std::vector<PartStretches> stretches_of(const std::vector<OutlineSample>& samples, bool disc, const PictureBlur& blur,
                                        const Reach& reach, double range_px, bool curved_shade) {
  std::vector<PartStretches> parts;
  for (int p = 0; p < kOutlineParts; ++p) {
    PartStretches part;
    std::vector<OutlineSample>& own = part.samples;
    for (const OutlineSample& sample : samples)
      if (static_cast<int>(sample.part) == p) own.push_back(sample);
    if (own.size() < 5) continue;
    std::stable_sort(own.begin(), own.end(),
                     [](const OutlineSample& a, const OutlineSample& b) { return a.station_mm < b.station_mm; });
    const auto n = static_cast<std::size_t>(block_count(static_cast<OutlinePart>(p), own.size(), disc));
    for (std::size_t b = 0; b < n; ++b) {
      const std::size_t from = own.size() * b / n;
      const std::size_t to = own.size() * (b + 1) / n;
      if (to < from + 2) continue;
      EdgeBlock block = make_block(own, from, to);
      const OutlineSample& middle_sample = own[(from + to) / 2];
      EdgeModelOptions options =
          model_options(block.rim ? 0.0 : middle_sample.radius_px, middle_sample.wall_px, blur, reach, range_px);
      options.curved_shade = curved_shade;
      options.second_edges = options.radius_px <= 0.0;
      part.stretches.push_back({std::move(block), from, to, options, middle_sample.wall_px});
    }
    parts.push_back(std::move(part));
  }
  return parts;
}

// The strip of a part, as wide as the widest window of its stretches, whole or narrowed.
Strip strip_of(const Photo& photo, const PartStretches& part) {
  double inside_px = 0.0;
  double outside_px = 0.0;
  for (const Stretch& stretch : part.stretches) {
    inside_px = std::max(inside_px, stretch.options.inside_px);
    outside_px = std::max(
        {outside_px, stretch.options.outside_px, narrowed(stretch.options, stretch.options.blur_px).outside_px});
  }
  return sample_strip(photo, part.samples, -inside_px, outside_px, kProfileStepPx);
}

// As far as any round looks but across walls: all rounds share their tables.
constexpr double kTablesRangePx = 3.0;

std::vector<EdgeBlock> measure_blocks(const Photo& photo, const std::vector<OutlineSample>& samples, bool disc,
                                      const PictureBlur& blur, double range_px, bool across_walls, bool curved_shade,
                                      EdgeModelStore& models) {
  std::vector<EdgeBlock> blocks;
  for (PartStretches& part : stretches_of(samples, disc, blur, reach_for(blur.luma_px), kTablesRangePx, curved_shade)) {
    const Strip strip = strip_of(photo, part);
    for (Stretch& stretch : part.stretches) {
      const double with_wall_px = range_with_wall_px(stretch.options, range_px);
      stretch.options.range_px = std::max(stretch.options.range_px, with_wall_px);
      const EdgeSearch search{all_channels(photo), across_walls ? with_wall_px : range_px};
      const Rows rows(strip, static_cast<int>(stretch.from), static_cast<int>(stretch.to));
      measure_edge(stretch.block, rows, stretch.options, stretch.wall_px, search, models);
      blocks.push_back(std::move(stretch.block));
    }
  }
  return blocks;
}

constexpr int kShifts = kOutlineParts + 2;  // the two rims have shifts of their own
constexpr int kSlopes = 2;           // of the left and the right limb's shift along the blank: light changes along it
constexpr double kSlopeShare = 0.7;  // of the shift's prior, reached at the blank's ends

int shift_index(const EdgeBlock& block) {
  return block.rim ? kOutlineParts + (block.part == OutlinePart::left ? 0 : 1) : static_cast<int>(block.part);
}

using PartScatter = std::array<double, kOutlineParts>;  // px

struct Solution {
  std::vector<double> weights;  // of the blocks
  PartScatter scatter_px{};     // what the priors of the ends' shifts were made from
  double half_length_mm = 1.0;
  VectorXd unknowns;  // place parameters, then one shift a part, left and right rims apart
  MatrixXd covariance;
  MatrixXd response;

  // What the shift and slope of the block's limb put into its position.
  [[nodiscard]] double nuisance(const EdgeBlock& block) const {
    double value = unknowns[kFittedParameters + shift_index(block)];
    if (is_side(block.part))
      value += unknowns[kFittedParameters + kShifts + (block.part == OutlinePart::left ? 0 : 1)] * block.station_mm /
               half_length_mm;
    return value;
  }
};

// Prior of each shift: a limb whose place hangs on how it is shaded is trusted less.
// An end whose stretches disagree may as a whole lie off by as much and more: a shadow took part of it.
std::array<double, kShifts> shift_sigmas(const std::vector<EdgeBlock>& blocks, const OutlineFitOptions& options,
                                         const PartScatter& scatter_px) {
  constexpr double kShareOfDoubt = 0.4;
  constexpr double kShareOfScatter = 2.0;
  double px_per_mm = 1.0;
  std::array<std::vector<double>, kShifts> doubts;
  for (const EdgeBlock& block : blocks) {
    px_per_mm = std::max(px_per_mm, std::abs(block.by_place[kAcross]));
    if (block.edge.gain >= kSmallestGain)
      doubts[static_cast<std::size_t>(shift_index(block))].push_back(block.edge.doubt_px);
  }
  std::array<double, kShifts> sigmas{};
  for (std::size_t s = 0; s < kShifts; ++s) {
    const bool end =
        s == static_cast<std::size_t>(OutlinePart::start) || s == static_cast<std::size_t>(OutlinePart::end);
    const double base =
        s >= kOutlineParts ? options.rim_sigma_mm * px_per_mm : (end ? options.end_sigma_px : options.limb_sigma_px);
    const double disagreement = end ? kShareOfScatter * scatter_px[s] : 0.0;
    sigmas[s] = std::hypot(base, kShareOfDoubt * middle(doubts[s]), disagreement);
  }
  return sigmas;
}

// On the way to a solution its covariance and response are not asked for.
enum class Told { unknowns, all };

Solution solve(const std::vector<EdgeBlock>& blocks, const std::vector<double>& weights, const PartScatter& scatter_px,
               const OutlineFitOptions& options, bool turns, double girth_now_mm, double length_now_mm, Told told) {
  constexpr int n = kFittedParameters + kShifts + kSlopes;
  using Unknowns = Eigen::Matrix<double, n, 1>;
  using Square = Eigen::Matrix<double, n, n>;
  double half_length_mm = 1.0;
  for (const EdgeBlock& block : blocks)
    if (is_side(block.part)) half_length_mm = std::max(half_length_mm, std::abs(block.station_mm));
  Square normal = Square::Zero();
  Unknowns right = Unknowns::Zero();
  Eigen::Matrix<double, n, Eigen::Dynamic> design(n, told == Told::all ? static_cast<Eigen::Index>(blocks.size()) : 0);
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    Unknowns row = Unknowns::Zero();
    row.head<kFittedParameters>() = blocks[i].by_place.head<kFittedParameters>().transpose();
    if (!turns) row[kTurn] = 0.0;
    row[kFittedParameters + shift_index(blocks[i])] = 1.0;
    if (is_side(blocks[i].part))
      row[kFittedParameters + kShifts + (blocks[i].part == OutlinePart::left ? 0 : 1)] =
          blocks[i].station_mm / half_length_mm;
    normal += weights[i] * row * row.transpose();
    right += weights[i] * blocks[i].edge.position_px * row;
    if (told == Told::all) design.col(static_cast<Eigen::Index>(i)) = weights[i] * row;
  }
  auto prior = [&](int index, double value, double sigma) {
    normal(index, index) += 1.0 / (sigma * sigma);
    right[index] += value / (sigma * sigma);
  };
  const std::array<double, kShifts> sigmas = shift_sigmas(blocks, options, scatter_px);
  for (int s = 0; s < kShifts; ++s) prior(kFittedParameters + s, 0.0, sigmas[static_cast<std::size_t>(s)]);
  for (int side = 0; side < kSlopes; ++side)
    prior(kFittedParameters + kShifts + side, 0.0, kSlopeShare * sigmas[static_cast<std::size_t>(side)]);
  // weak priors keep what is not seen at all finite: far wider than any jig
  prior(kAcross, 0.0, 50.0);
  prior(kAlong, 0.0, 50.0);
  prior(kTurn, 0.0, turns ? 1.0 : 1e-9);
  prior(kGirth, options.girth_centre_mm - girth_now_mm, options.girth_sigma_mm.value_or(20.0));
  prior(kLength, options.length_centre_mm - length_now_mm, options.length_sigma_mm.value_or(20.0));
  const Eigen::LDLT<Square> factor(normal);
  Solution solution;
  solution.half_length_mm = half_length_mm;
  solution.unknowns = factor.solve(right);
  if (told == Told::all) {
    solution.covariance = factor.solve(Square::Identity());
    solution.response = factor.solve(design);
  }
  solution.weights = weights;
  solution.scatter_px = scatter_px;
  return solution;
}

// For judging sizes a limb's shading is given more room (dark, glossy or wood on wood).
constexpr double kLimbForSizePx = 0.4;

// The girth by itself: the same edges, the same weights, no prior.
void free_girth(const OutlineFitOptions& options, const Solution& priors, bool turns, OutlineFit& fit) {
  OutlineFitOptions open = options;
  open.girth_sigma_mm.reset();
  open.limb_sigma_px = kLimbForSizePx;
  const Solution solution = solve(fit.blocks, priors.weights, priors.scatter_px, open, turns, fit.place.girth_mm,
                                  fit.place.length_mm, Told::all);
  fit.girth_free_mm = fit.place.girth_mm + solution.unknowns[kGirth];
  fit.girth_free_sigma_mm = std::sqrt(std::max(solution.covariance(kGirth, kGirth), 0.0));
}

void take(EdgeBlock& block, const EdgePlace& place) {
  block.edge.position_px = place.position_px;
  block.edge.sigma_px = place.sigma_px;
  block.edge.gain = place.gain;
  block.edge.strength = place.strength;
  block.edge.at_rim = false;
}

// The place of a block's edge that a supposed outline speaks for: the nearest, a clearer one before a fainter.
void choose_place(EdgeBlock& block, double predicted_px) {
  constexpr double kSpreadPx = 0.5;
  constexpr double kWeightOfGain = 0.5;
  double least = 0.0;
  const EdgePlace* chosen = nullptr;
  for (const EdgePlace& place : block.places) {
    const double z = (place.position_px - predicted_px) / std::hypot(place.sigma_px, kSpreadPx);
    const double cost = z * z - kWeightOfGain * std::log(place.gain);
    if (chosen != nullptr && cost >= least) continue;
    least = cost;
    chosen = &place;
  }
  if (chosen != nullptr) take(block, *chosen);
}

// Robust solution: weights by Cauchy's loss on residuals over their scale, which comes from the residuals themselves.
Solution settle(std::vector<EdgeBlock>& blocks, const OutlineFitOptions& options, bool turns, const BlankPlace& place) {
  constexpr double kCauchy = 2.4;  // 95 % efficient on Gaussian noise (Holland & Welsch 1977)
  PartScatter scatter{};
  scatter.fill(0.3);
  std::vector<double> robust(blocks.size(), 1.0);
  Solution solution;
  for (int round = 0; round < 6; ++round) {
    std::vector<double> weights(blocks.size(), 0.0);
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      EdgeBlock& block = blocks[i];
      if (block.places.empty()) continue;
      if (round > 0) choose_place(block, block.edge.position_px - block.residual_px);
      const double sigma = std::hypot(block.edge.sigma_px, scatter[static_cast<std::size_t>(block.part)]);
      weights[i] = robust[i] / (sigma * sigma);
    }
    solution = solve(blocks, weights, scatter, options, turns, place.girth_mm, place.length_mm, Told::unknowns);
    std::array<std::vector<double>, kOutlineParts> residuals;
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      EdgeBlock& block = blocks[i];
      block.residual_px = block.edge.position_px -
                          block.by_place.head<kFittedParameters>().dot(solution.unknowns.head<kFittedParameters>()) -
                          solution.nuisance(block);
      if (weights[i] > 0.0) residuals[static_cast<std::size_t>(block.part)].push_back(std::abs(block.residual_px));
    }
    for (std::size_t p = 0; p < kOutlineParts; ++p)
      scatter[p] = std::clamp(1.4826 * middle(residuals[p]), kTextureSigmaPx, 1.0);
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      EdgeBlock& block = blocks[i];
      const double scale = std::hypot(block.edge.sigma_px, scatter[static_cast<std::size_t>(block.part)]);
      const double z = block.residual_px / (kCauchy * scale);
      robust[i] = 1.0 / (1.0 + z * z);
      block.weight = robust[i];
      block.used = weights[i] > 0.0 && std::abs(block.residual_px) < 3.5 * scale;
    }
  }
  return solution;
}

// How much of the outline speaks for a solution: every block counts by its gain, up to a cap, and less the further off
// it lies. The cap keeps one strong edge, say a shadow's, from outweighing many faint ones.
double agreement(const std::vector<EdgeBlock>& blocks) {
  constexpr double kCap = 2.5;
  constexpr double kSpreadPx = 0.35;
  double sum = 0.0;
  for (const EdgeBlock& block : blocks) {
    if (block.places.empty()) continue;
    const double z = block.residual_px / kSpreadPx;
    sum += std::min(std::log(block.edge.gain), kCap) / (1.0 + z * z);
  }
  return sum;
}

// Shifts across and turns that many blocks of the sides agree on, the girth supposed as declared: each block votes for
// all places that its edge may have (the many hypotheses of Vacchetti, Lepetit & Fua, ISMAR 2004).
struct Vote {
  double across_mm = 0.0;
  double turn_rad = 0.0;
  double support = 0.0;
};
std::vector<Vote> votes(const std::vector<EdgeBlock>& blocks, const OutlineFitOptions& options, bool turns,
                        double girth_now_mm) {
  constexpr std::size_t kKept = 3;
  constexpr double kStepPx = 0.35;
  constexpr double kSpreadPx = 0.4;
  double px_per_mm = 0.0;
  double half_length_mm = 1.0;
  for (const EdgeBlock& block : blocks) {
    if (!is_side(block.part)) continue;
    px_per_mm = std::max(px_per_mm, std::abs(block.by_place[kAcross]));
    half_length_mm = std::max(half_length_mm, std::abs(block.station_mm));
  }
  if (!(px_per_mm > 0.0) || !turns) return {};
  const double girth_mm = options.girth_centre_mm - girth_now_mm;
  const int shifts = static_cast<int>(std::ceil(options.range_px / kStepPx));
  const int turn_steps = static_cast<int>(std::ceil(0.7 * options.range_px / kStepPx));
  std::vector<Vote> all;
  for (int t = -turn_steps; t <= turn_steps; ++t) {
    for (int a = -shifts; a <= shifts; ++a) {
      Vote vote{a * kStepPx / px_per_mm, t * kStepPx / (px_per_mm * half_length_mm), 0.0};
      std::array<double, 2> sides{};
      for (const EdgeBlock& block : blocks) {
        if (!is_side(block.part)) continue;
        const double predicted = block.by_place[kAcross] * vote.across_mm + block.by_place[kTurn] * vote.turn_rad +
                                 block.by_place[kGirth] * girth_mm;
        double best = 0.0;
        for (const EdgePlace& place : block.places) {
          const double z = (place.position_px - predicted) / kSpreadPx;
          best = std::max(best, 1.0 / (1.0 + z * z));
        }
        sides[block.part == OutlinePart::left ? 0 : 1] += best;
      }
      vote.support = std::sqrt(sides[0] * sides[1]);
      all.push_back(vote);
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const Vote& a, const Vote& b) { return a.support > b.support; });
  std::vector<Vote> kept;
  for (const Vote& vote : all) {
    if (kept.size() == kKept) break;
    const bool near = std::any_of(kept.begin(), kept.end(), [&](const Vote& other) {
      return std::abs(vote.across_mm - other.across_mm) * px_per_mm < 1.0 &&
             std::abs(vote.turn_rad - other.turn_rad) * px_per_mm * half_length_mm < 1.0;
    });
    if (!near) kept.push_back(vote);
  }
  return kept;
}

// The solution that most of the outline speaks for: from every block's clearest edge, and from what the sides' edges
// can agree on.
Solution solve_robustly(std::vector<EdgeBlock>& blocks, const OutlineFitOptions& options, bool turns,
                        const BlankPlace& place) {
  for (EdgeBlock& block : blocks)
    if (!block.places.empty()) take(block, block.places.front());
  std::vector<EdgeBlock> best_blocks = blocks;
  Solution best = settle(best_blocks, options, turns, place);
  double most = agreement(best_blocks);
  for (const Vote& vote : votes(blocks, options, turns, place.girth_mm)) {
    std::vector<EdgeBlock> trial = blocks;
    const double girth_mm = options.girth_centre_mm - place.girth_mm;
    for (EdgeBlock& block : trial)
      if (is_side(block.part))
        choose_place(block, block.by_place[kAcross] * vote.across_mm + block.by_place[kTurn] * vote.turn_rad +
                                block.by_place[kGirth] * girth_mm);
    Solution solution = settle(trial, options, turns, place);
    const double value = agreement(trial);
    if (value <= most) continue;
    most = value;
    best = std::move(solution);
    best_blocks = std::move(trial);
  }
  blocks = std::move(best_blocks);
  return solve(blocks, best.weights, best.scatter_px, options, turns, place.girth_mm, place.length_mm, Told::all);
}

void describe_parts(OutlineFit& fit) {
  for (std::size_t p = 0; p < kOutlineParts; ++p) {
    PartQuality& quality = fit.parts[p];
    std::vector<double> residuals;
    std::vector<double> gains;
    std::vector<double> strengths;
    for (const EdgeBlock& block : fit.blocks) {
      if (static_cast<std::size_t>(block.part) != p) continue;
      ++quality.blocks;
      if (!block.used) continue;
      ++quality.used;
      residuals.push_back(std::abs(block.residual_px));
      gains.push_back(block.edge.gain);
      strengths.push_back(block.edge.strength);
    }
    quality.scatter_px = 1.4826 * middle(residuals);
    quality.gain = middle(gains);
    quality.strength = middle(strengths);
  }
}

BlankPlace moved(const BlankPlace& place, const VectorXd& step) {
  BlankPlace result = place;
  const Vector2d along(std::cos(place.heading_rad), std::sin(place.heading_rad));
  const Vector2d across(-along.y(), along.x());
  result.centre_mm += step[kAcross] * across + step[kAlong] * along;
  result.heading_rad += step[kTurn];
  result.girth_mm += step[kGirth];
  result.length_mm += step[kLength];
  return result;
}

// One round from fit.place on: measures the outline there and moves the place. Not when that runs away.
struct Round {
  double range_px;
  bool across_walls;
  bool last;
};
bool step(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
          const OutlineFitOptions& options, const Round& round, EdgeModelStore& models, OutlineFit& fit) {
  const bool disc = std::holds_alternative<DiscBlank>(blank.shape);
  OutlineOptions sampling;
  sampling.spacing_px = kSampleSpacingPx;
  const auto samples = outline_samples(camera, blank, seat, fit.place, sampling);
  fit.blocks = measure_blocks(photo, samples, disc, options.blur, round.range_px, round.across_walls,
                              options.curved_shade, models);
  if (fit.blocks.size() < 4) return false;
  const Solution solution = solve_robustly(fit.blocks, options, !disc, fit.place);
  if (!solution.unknowns.allFinite()) return false;
  fit.covariance = solution.covariance.topLeftCorner<kFittedParameters, kFittedParameters>();
  fit.response = solution.response.topRows<kFittedParameters>();
  if (round.last) free_girth(options, solution, !disc, fit);
  fit.place = moved(fit.place, solution.unknowns);
  return solution.unknowns.head<2>().norm() <= 20.0 && std::abs(solution.unknowns[kTurn]) <= 0.3;
}

// How far the outline of `other`, nearly the same place, lies from this fit's where it is furthest, px.
double furthest_apart_px(const OutlineFit& fit, const BlankPlace& other) {
  const Vector2d along(std::cos(fit.place.heading_rad), std::sin(fit.place.heading_rad));
  const Vector2d across(-along.y(), along.x());
  const Vector2d apart_mm = other.centre_mm - fit.place.centre_mm;
  Eigen::Matrix<double, kFittedParameters, 1> change;
  change[kAcross] = apart_mm.dot(across);
  change[kAlong] = apart_mm.dot(along);
  change[kTurn] = std::remainder(other.heading_rad - fit.place.heading_rad, 2.0 * kPi);
  change[kGirth] = other.girth_mm - fit.place.girth_mm;
  change[kLength] = other.length_mm - fit.place.length_mm;
  double most = 0.0;
  for (const EdgeBlock& block : fit.blocks)
    most = std::max(most, std::abs(block.by_place.head<kFittedParameters>().dot(change)));
  return most;
}

// Which of the known places a fit has come upon: so near that the next rounds look at the same edges.
std::optional<std::size_t> come_upon(const OutlineFit& fit, const OutlineFitOptions& options) {
  constexpr double kSame_px = 0.35;
  for (std::size_t i = 0; i < options.known.size(); ++i) {
    const OutlineFit& known = *options.known[i];
    if (known.girth_centre_mm == fit.girth_centre_mm && known.length_centre_mm == fit.length_centre_mm &&
        furthest_apart_px(fit, known.place) < kSame_px)
      return i;
  }
  return std::nullopt;
}

}  // namespace

std::optional<OutlineFit> fit_outline(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                      const BlankPlace& start, const OutlineFitOptions& options,
                                      EdgeModelStore& models) {
  OutlineFit fit;
  fit.place = start;
  fit.girth_centre_mm = options.girth_centre_mm;
  fit.length_centre_mm = options.length_centre_mm;
  const double further_px = std::max(2.0, 0.7 * options.range_px);
  for (int i = 0; i < kRounds; ++i) {
    const Round round{i == 0 ? options.range_px : further_px, i == 0, i + 1 == kRounds};
    if (!step(photo, camera, blank, seat, options, round, models, fit)) return std::nullopt;
    if (round.last) break;
    fit.known = come_upon(fit, options);
    if (fit.known) return fit;
  }
  describe_parts(fit);
  return fit;
}

std::vector<EdgeBlock> edges_along(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                   const BlankPlace& place, const PictureBlur& blur, double range_px,
                                   EdgeModelStore& models) {
  OutlineOptions sampling;
  sampling.spacing_px = kSampleSpacingPx;
  return measure_blocks(photo, outline_samples(camera, blank, seat, place, sampling),
                        std::holds_alternative<DiscBlank>(blank.shape), blur, range_px, false, true, models);
}

std::vector<std::optional<EdgeFit>> edges_beside(const Photo& photo, const Camera& camera, const Blank& blank,
                                                 const Seat& seat, const BlankPlace& place,
                                                 const std::vector<SideStretch>& stretches, const PictureBlur& blur,
                                                 EdgeModelStore& models) {
  constexpr std::size_t kFewestSamples = 4;
  OutlineOptions sampling;
  sampling.spacing_px = kSampleSpacingPx;
  const std::vector<OutlineSample> outline = outline_samples(camera, blank, seat, place, sampling);
  const Reach reach = reach_for(blur.luma_px);
  std::vector<std::optional<EdgeFit>> edges;
  for (const SideStretch& stretch : stretches) {
    const auto [low_mm, high_mm] = std::minmax(stretch.from_mm, stretch.to_mm);
    std::vector<OutlineSample> samples;
    for (const OutlineSample& sample : outline)
      if (sample.part == stretch.part && !sample.rim && sample.station_mm >= low_mm && sample.station_mm <= high_mm)
        samples.push_back(sample);
    edges.emplace_back();
    if (samples.size() < kFewestSamples) continue;
    EdgeModelOptions options = model_options(0.0, 0.0, blur, reach, 2.0);
    options.inside_px = inside_px_for(samples[samples.size() / 2].radius_px, reach);
    options.chroma = photo.has_colour();
    const std::shared_ptr<const EdgeModel> model = models.get(options);
    const Strip strip = sample_strip(photo, samples, -reach.inside_px, reach.outside_px, kProfileStepPx);
    edges.back() = fitted(*model, Rows(strip, 0, strip.rows).in_window_of(*model),
                          {all_channels(photo), model->options().range_px});
  }
  return edges;
}

namespace {

// The value of the least misfit; the usual one unless another is truly better. More than one minimum is common: all are
// looked at.
template <std::size_t N, class Misfit>
double of_least(const std::array<double, N>& values, std::size_t usual, const Misfit& misfit) {
  double best = values[usual];
  double least = misfit(best);
  for (std::size_t i = 0; i < N; ++i) {
    if (i == usual) continue;
    const double value = misfit(values[i]);
    if (value >= least) continue;
    least = value;
    best = values[i];
  }
  return best;
}

constexpr std::array kLumaBlurs_px{0.6, 0.75, 0.9, 1.1, 1.35, 1.7, 2.2, 2.8};
constexpr std::array kChromaBlurs_px{0.5, 1.0, 1.5, 2.0, 2.6, 3.4};
constexpr std::size_t kUsualLumaBlur = 2;
constexpr std::size_t kUsualChromaBlur = 2;
static_assert(kLumaBlurs_px[kUsualLumaBlur] == PictureBlur{}.luma_px);
static_assert(kChromaBlurs_px[kUsualChromaBlur] == PictureBlur{}.chroma_px);

// How well one blank's edges are told with one blur or another. Its rows are averaged once for all of them.
class BlurTrial {
 public:
  BlurTrial(const Photo& photo, std::vector<OutlineSample> samples, bool disc, EdgeModelStore& models)
      : samples_(std::move(samples)), disc_(disc), models_(models) {
    for (const PartStretches& part : stretches({kLumaBlurs_px.back(), kChromaBlurs_px.back()})) {
      const Strip strip = strip_of(photo, part);
      for (const Stretch& stretch : part.stretches)
        rows_.emplace_back(strip, static_cast<int>(stretch.from), static_cast<int>(stretch.to));
    }
  }

  // Half of the stretches leave less than this share of what they would without an edge.
  [[nodiscard]] double misfit(const PictureBlur& blur, ChannelRange channels) const {
    std::vector<double> shares;
    auto rows = rows_.begin();
    for (PartStretches& part : stretches(blur)) {
      for (Stretch& stretch : part.stretches) {
        measure_edge(stretch.block, *rows++, stretch.options, stretch.wall_px, {channels, kRangePx}, models_);
        if (stretch.block.edge.gain > 0.0) shares.push_back(1.0 / stretch.block.edge.gain);
      }
    }
    return middle(shares);
  }

 private:
  static constexpr double kRangePx = 2.0;
  std::vector<OutlineSample> samples_;
  bool disc_;
  EdgeModelStore& models_;
  std::vector<Rows> rows_;

  // in windows that do not depend on the blur, so that the misfits compare
  [[nodiscard]] std::vector<PartStretches> stretches(const PictureBlur& blur) const {
    return stretches_of(samples_, disc_, blur, reach_for(1.0), kRangePx, true);
  }
};

}  // namespace

PictureBlur estimate_blur(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                          const BlankPlace& place, EdgeModelStore& models) {
  OutlineOptions sampling;
  sampling.spacing_px = kSampleSpacingPx;
  const BlurTrial trial(photo, outline_samples(camera, blank, seat, place, sampling),
                        std::holds_alternative<DiscBlank>(blank.shape), models);
  PictureBlur best;
  best.luma_px = of_least(kLumaBlurs_px, kUsualLumaBlur, [&](double px) {
    return trial.misfit({px, kChromaBlurs_px[kUsualChromaBlur]}, {0, 1});
  });
  if (photo.has_colour())
    best.chroma_px = of_least(kChromaBlurs_px, kUsualChromaBlur, [&](double px) {
      return trial.misfit({best.luma_px, px}, {1, kChannels});
    });
  return best;
}

}  // namespace jigtrue
