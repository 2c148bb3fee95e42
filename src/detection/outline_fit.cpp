#include "jigtrue/detection/outline_fit.hpp"

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

double median(std::vector<double> values) {
  if (values.empty()) return 0.0;
  auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

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

// Windows for a picture of this blur: wide enough for the blurred edge and a little of what lies on either side.
struct Reach {
  double inside_px;
  double outside_px;
};
Reach reach_for(double blur_px) {
  return {std::ceil(std::max(8.0, 5.0 * blur_px + 3.0)), std::ceil(std::max(5.0, 3.0 * blur_px + 2.0))};
}

EdgeModelOptions model_options(double radius_px, double wall_px, const PictureBlur& blur, const Reach& reach,
                               double range_px) {
  EdgeModelOptions options;
  options.blur_px = blur.luma_px;
  options.chroma_blur_px = blur.chroma_px;
  options.step_px = kProfileStepPx;
  options.range_px = range_px;
  options.inside_px =
      radius_px > 0.0 ? std::clamp(std::floor(0.75 * radius_px), 3.0, reach.inside_px) : reach.inside_px;
  options.outside_px = reach.outside_px;
  if (radius_px <= 0.0 && wall_px >= kNarrowestWallPx && wall_px <= kWidestWallPx) {
    options.wall_px = std::round(4.0 * wall_px) / 4.0;
    options.outside_px = std::max(options.outside_px, std::ceil(options.wall_px + kBesideWallPx));
  }
  if (radius_px > 0.0) options.radius_px = std::exp(std::round(std::log(radius_px) / 0.08) * 0.08);
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

std::vector<EdgeBlock> measure_blocks(const Photo& photo, const std::vector<OutlineSample>& samples, bool disc,
                                      const PictureBlur& blur, const Reach& reach, double range_px,
                                      ChannelRange channels, EdgeModelStore& models) {
  std::vector<EdgeBlock> blocks;
  for (int p = 0; p < kOutlineParts; ++p) {
    std::vector<OutlineSample> own;
    for (const OutlineSample& sample : samples)
      if (static_cast<int>(sample.part) == p) own.push_back(sample);
    if (own.size() < 5) continue;
    std::stable_sort(own.begin(), own.end(),
                     [](const OutlineSample& a, const OutlineSample& b) { return a.station_mm < b.station_mm; });
    const Strip strip = sample_strip(photo, own, -reach.inside_px,
                                     std::max(reach.outside_px, kWidestWallPx + kBesideWallPx + 1.0), kProfileStepPx);
    const auto n = static_cast<std::size_t>(block_count(static_cast<OutlinePart>(p), own.size(), disc));
    for (std::size_t b = 0; b < n; ++b) {
      const std::size_t from = own.size() * b / n;
      const std::size_t to = own.size() * (b + 1) / n;
      if (to < from + 2) continue;
      EdgeBlock block = make_block(own, from, to);
      const double radius_px = block.rim ? 0.0 : own[(from + to) / 2].radius_px;
      const double wall_px = own[(from + to) / 2].wall_px;
      const EdgeModel& model = models.get(model_options(radius_px, wall_px, blur, reach, range_px));
      const int first = static_cast<int>(std::lround((model.first_px() - strip.first_px) / strip.step_px));
      const MeanProfile profile =
          mean_profile(strip, static_cast<int>(from), static_cast<int>(to), first, model.columns());
      block.edge = model.fit(profile.values, profile.noise, channels);
      blocks.push_back(block);
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

struct Solution {
  std::vector<double> weights;  // of the blocks
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
std::array<double, kShifts> shift_sigmas(const std::vector<EdgeBlock>& blocks, const OutlineFitOptions& options) {
  constexpr double kShareOfDoubt = 0.4;
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
    sigmas[s] = std::hypot(base, kShareOfDoubt * median(doubts[s]));
  }
  return sigmas;
}

Solution solve(const std::vector<EdgeBlock>& blocks, const std::vector<double>& weights,
               const OutlineFitOptions& options, bool turns, double girth_now_mm, double length_now_mm) {
  constexpr int n = kFittedParameters + kShifts + kSlopes;
  double half_length_mm = 1.0;
  for (const EdgeBlock& block : blocks)
    if (is_side(block.part)) half_length_mm = std::max(half_length_mm, std::abs(block.station_mm));
  MatrixXd normal = MatrixXd::Zero(n, n);
  VectorXd right = VectorXd::Zero(n);
  MatrixXd design(n, static_cast<Eigen::Index>(blocks.size()));
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    VectorXd row = VectorXd::Zero(n);
    row.head<kFittedParameters>() = blocks[i].by_place.head<kFittedParameters>().transpose();
    if (!turns) row[kTurn] = 0.0;
    row[kFittedParameters + shift_index(blocks[i])] = 1.0;
    if (is_side(blocks[i].part))
      row[kFittedParameters + kShifts + (blocks[i].part == OutlinePart::left ? 0 : 1)] =
          blocks[i].station_mm / half_length_mm;
    normal += weights[i] * row * row.transpose();
    right += weights[i] * blocks[i].edge.position_px * row;
    design.col(static_cast<Eigen::Index>(i)) = weights[i] * row;
  }
  auto prior = [&](int index, double value, double sigma) {
    normal(index, index) += 1.0 / (sigma * sigma);
    right[index] += value / (sigma * sigma);
  };
  const std::array<double, kShifts> sigmas = shift_sigmas(blocks, options);
  for (int s = 0; s < kShifts; ++s) prior(kFittedParameters + s, 0.0, sigmas[static_cast<std::size_t>(s)]);
  for (int side = 0; side < kSlopes; ++side)
    prior(kFittedParameters + kShifts + side, 0.0, kSlopeShare * sigmas[static_cast<std::size_t>(side)]);
  // weak priors keep what is not seen at all finite: far wider than any jig
  prior(kAcross, 0.0, 50.0);
  prior(kAlong, 0.0, 50.0);
  prior(kTurn, 0.0, turns ? 1.0 : 1e-9);
  prior(kGirth, options.girth_centre_mm - girth_now_mm, options.girth_sigma_mm.value_or(20.0));
  prior(kLength, options.length_centre_mm - length_now_mm, options.length_sigma_mm.value_or(20.0));
  const Eigen::LDLT<MatrixXd> factor(normal);
  Solution solution;
  solution.half_length_mm = half_length_mm;
  solution.unknowns = factor.solve(right);
  solution.covariance = factor.solve(MatrixXd::Identity(n, n));
  solution.response = factor.solve(design);
  return solution;
}

// For judging sizes a limb's shading is given more room (dark, glossy or wood on wood).
constexpr double kLimbForSizePx = 0.4;

// The girth by itself: the same edges, the same weights, no prior.
void free_girth(const OutlineFitOptions& options, const std::vector<double>& weights, bool turns, OutlineFit& fit) {
  OutlineFitOptions open = options;
  open.girth_sigma_mm.reset();
  open.limb_sigma_px = kLimbForSizePx;
  const Solution solution = solve(fit.blocks, weights, open, turns, fit.place.girth_mm, fit.place.length_mm);
  fit.girth_free_mm = fit.place.girth_mm + solution.unknowns[kGirth];
  fit.girth_free_sigma_mm = std::sqrt(std::max(solution.covariance(kGirth, kGirth), 0.0));
}

// Robust solution: weights by Cauchy's loss on residuals over their scale, which comes from the residuals themselves.
Solution solve_robustly(std::vector<EdgeBlock>& blocks, const OutlineFitOptions& options, bool turns,
                        const BlankPlace& place) {
  constexpr double kCauchy = 2.4;  // 95 % efficient on Gaussian noise (Holland & Welsch 1977)
  std::vector<double> scatter(kOutlineParts, 0.3);
  std::vector<double> robust(blocks.size(), 1.0);
  Solution solution;
  for (int round = 0; round < 6; ++round) {
    std::vector<double> weights(blocks.size(), 0.0);
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      const EdgeBlock& block = blocks[i];
      if (block.edge.at_rim || block.edge.gain < kSmallestGain) continue;
      const double sigma = std::hypot(block.edge.sigma_px, scatter[static_cast<std::size_t>(block.part)]);
      weights[i] = robust[i] / (sigma * sigma);
    }
    solution = solve(blocks, weights, options, turns, place.girth_mm, place.length_mm);
    solution.weights = weights;
    std::array<std::vector<double>, kOutlineParts> residuals;
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      EdgeBlock& block = blocks[i];
      block.residual_px = block.edge.position_px -
                          block.by_place.head<kFittedParameters>().dot(solution.unknowns.head<kFittedParameters>()) -
                          solution.nuisance(block);
      if (weights[i] > 0.0) residuals[static_cast<std::size_t>(block.part)].push_back(std::abs(block.residual_px));
    }
    for (std::size_t p = 0; p < kOutlineParts; ++p)
      scatter[p] = std::clamp(1.4826 * median(residuals[p]), kTextureSigmaPx, 1.0);
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

void describe_parts(OutlineFit& fit) {
  for (std::size_t p = 0; p < kOutlineParts; ++p) {
    PartQuality& quality = fit.parts[p];
    std::vector<double> residuals;
    std::vector<double> gains;
    for (const EdgeBlock& block : fit.blocks) {
      if (static_cast<std::size_t>(block.part) != p) continue;
      ++quality.blocks;
      if (!block.used) continue;
      ++quality.used;
      residuals.push_back(std::abs(block.residual_px));
      gains.push_back(block.edge.gain);
      fit.evidence += std::log(block.edge.gain);
    }
    quality.scatter_px = 1.4826 * median(residuals);
    quality.gain = median(gains);
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

}  // namespace

const EdgeModel& EdgeModelStore::get(const EdgeModelOptions& options) {
  auto rounded = [](double value) { return std::lround(value * 1000.0); };
  const Key key{rounded(options.blur_px),   rounded(options.chroma_blur_px), rounded(options.radius_px),
                rounded(options.inside_px), rounded(options.outside_px),     rounded(options.range_px),
                rounded(options.wall_px)};
  auto found = models_.find(key);
  if (found == models_.end()) found = models_.emplace(key, EdgeModel(options)).first;
  return found->second;
}

std::optional<OutlineFit> fit_outline(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                      const BlankPlace& start, const OutlineFitOptions& options,
                                      EdgeModelStore& models) {
  const bool disc = std::holds_alternative<DiscBlank>(blank.shape);
  OutlineFit fit;
  fit.place = start;
  OutlineOptions sampling;
  sampling.spacing_px = kSampleSpacingPx;
  for (int round = 0; round < kRounds; ++round) {
    const auto samples = outline_samples(camera, blank, seat, fit.place, sampling);
    const double range = round == 0 ? options.range_px : std::max(2.0, 0.7 * options.range_px);
    fit.blocks = measure_blocks(photo, samples, disc, options.blur, reach_for(options.blur.luma_px), range,
                                all_channels(photo), models);
    if (fit.blocks.size() < 4) return std::nullopt;
    const Solution solution = solve_robustly(fit.blocks, options, !disc, fit.place);
    if (!solution.unknowns.allFinite()) return std::nullopt;
    fit.covariance = solution.covariance.topLeftCorner<kFittedParameters, kFittedParameters>();
    fit.response = solution.response.topRows<kFittedParameters>();
    if (round + 1 == kRounds) free_girth(options, solution.weights, !disc, fit);
    fit.place = moved(fit.place, solution.unknowns);
    if (solution.unknowns.head<2>().norm() > 20.0 || std::abs(solution.unknowns[kTurn]) > 0.3) return std::nullopt;
  }
  describe_parts(fit);
  return fit;
}

std::optional<EdgeFit> edge_beside(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                   const BlankPlace& place, OutlinePart part, double from_mm, double to_mm,
                                   const PictureBlur& blur, EdgeModelStore& models) {
  OutlineOptions sampling;
  sampling.spacing_px = kSampleSpacingPx;
  auto samples = outline_samples(camera, blank, seat, place, sampling);
  std::erase_if(samples, [&](const OutlineSample& sample) {
    return sample.part != part || sample.rim || sample.station_mm < std::min(from_mm, to_mm) ||
           sample.station_mm > std::max(from_mm, to_mm);
  });
  if (samples.size() < 4) return std::nullopt;
  const Reach reach = reach_for(blur.luma_px);
  const Strip strip = sample_strip(photo, samples, -reach.inside_px, reach.outside_px, kProfileStepPx);
  const EdgeModel& model = models.get(model_options(0.0, 0.0, blur, reach, 2.0));
  const MeanProfile profile = mean_profile(strip, 0, strip.rows, 0, model.columns());
  return model.fit(profile.values, profile.noise, all_channels(photo));
}

PictureBlur estimate_blur(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                          const BlankPlace& place, EdgeModelStore& models) {
  const bool disc = std::holds_alternative<DiscBlank>(blank.shape);
  OutlineOptions sampling;
  sampling.spacing_px = kSampleSpacingPx;
  const auto samples = outline_samples(camera, blank, seat, place, sampling);
  auto misfit = [&](const PictureBlur& blur, ChannelRange channels) {
    std::vector<double> shares;
    // one window for every blur, so that the misfits compare
    for (const EdgeBlock& block : measure_blocks(photo, samples, disc, blur, reach_for(1.0), 2.0, channels, models))
      if (block.edge.gain > 0.0) shares.push_back(1.0 / block.edge.gain);
    return median(shares);
  };
  PictureBlur best;
  double least = misfit(best, {0, 1});
  for (const double blur : {0.6, 0.75, 1.1, 1.35, 1.7, 2.2, 2.8}) {
    const double value = misfit({blur, best.chroma_px}, {0, 1});
    if (value >= least) continue;
    least = value;
    best.luma_px = blur;
  }
  if (!photo.has_colour()) return best;
  least = misfit(best, {1, kChannels});
  for (const double blur : {0.5, 1.0, 2.0, 2.6, 3.4}) {
    const double value = misfit({best.luma_px, blur}, {1, kChannels});
    if (value >= least) continue;
    least = value;
    best.chroma_px = blur;
  }
  return best;
}

}  // namespace jigtrue
