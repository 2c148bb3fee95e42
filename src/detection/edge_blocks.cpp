#include "detection/edge_blocks.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <optional>
#include <utility>

namespace jigtrue {
namespace {

constexpr double kSampleSpacingPx = 2.0;  // rows two pixels apart share hardly any: their noise is nearly independent
constexpr double kPlainRatio = 4.0;       // with less the narrow window is tried too
constexpr double kSecondEdgeTells = 2.5;  // it must leave so much less than the blank's edge alone
// As far as any round looks but across walls: all rounds share their tables.
constexpr double kTablesRangePx = 3.0;

int block_count(OutlinePart part, std::size_t samples, bool disc) {
  const int wanted = static_cast<int>(samples) / 10;
  if (disc) return std::clamp(wanted, 3, 8);
  return is_side(part) ? std::clamp(wanted, 4, 16) : std::clamp(wanted, 2, 5);
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
  if (!edge.at_rim) places.push_back({edge.position_px, edge.sigma_px, edge.misfit_ratio, edge.strength});
  places.insert(places.end(), edge.rivals.begin(), edge.rivals.end());
  std::erase_if(places, [](const EdgePlace& place) { return place.misfit_ratio < kSmallestRatio; });
  return places;
}

// Adds what lies elsewhere than the places so far.
void add_elsewhere(std::vector<EdgePlace>& places, const std::vector<EdgePlace>& others) {
  constexpr double kSame_px = 0.5;  // nearer edges are one
  for (const EdgePlace& other : others) {
    const auto is_same = [&](const EdgePlace& place) {
      return std::abs(place.position_px - other.position_px) < kSame_px;
    };
    if (std::none_of(places.begin(), places.end(), is_same)) places.push_back(other);
  }
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

}  // namespace

std::vector<OutlineSample> measured_samples(const View& view, const BlankPlace& place, OutlineOptions of) {
  of.spacing_px = kSampleSpacingPx;
  return outline_samples(view.camera, view.blank, view.seat, place, of);
}

ChannelRange all_channels(const Photo& photo) { return {0, photo.has_colour() ? kChannels : 1}; }

void measure_edge(Stretch& stretch, const Rows& rows, const EdgeSearch& search, EdgeModelStore& models) {
  EdgeBlock& block = stretch.block;
  EdgeModelOptions asked = stretch.options;
  asked.chroma = search.channels.end > 1;
  const std::shared_ptr<const EdgeModel> kept = models.get(asked);
  const EdgeModel& model = *kept;
  const MeanProfile profile = rows.in_window_of(model);
  block.edge = model.fit(profile.values, profile.noise, search);
  const double whole_misfit = block.edge.misfit;
  std::vector<EdgePlace> others;
  if (block.edge.misfit_ratio < kPlainRatio) {
    // something else may lie in the window (a pocket's wall): look at the edge alone
    const std::shared_ptr<const EdgeModel> narrow = models.get(narrowed(asked, asked.blur_px));
    const MeanProfile cut = rows.in_window_of(*narrow);
    EdgeFit edge = narrow->fit(cut.values, cut.noise, search);
    const double apart_px = std::abs(edge.position_px - block.edge.position_px);
    if (edge.misfit_ratio > block.edge.misfit_ratio) std::swap(edge, block.edge);
    if (stretch.rim) others = places_of(edge);
    block.edge.doubt_px = std::max(block.edge.doubt_px, apart_px);
  }
  block.inside = level_of(profile, model.first_px(), -5.0, -1.5);
  block.outside = level_of(profile, model.first_px(), stretch.wall_px + 1.5, stretch.wall_px + 5.0);
  block.places = places_of(block.edge);
  if (asked.radius_px > 0.0) return;
  const auto pair = model.fit_with_second_edge(profile.values, profile.noise, search,
                                               {kSmallestRatio, whole_misfit, kSecondEdgeTells, stretch.rim});
  if (pair && pair->nearer_passes) {
    const EdgeFit& nearer = pair->fit;
    if (block.edge.misfit_ratio < kPlainRatio) {
      block.edge = nearer;
      block.places = places_of(block.edge);
    } else {
      const double apart_px = std::abs(nearer.position_px - block.edge.position_px);
      block.places.push_back({nearer.position_px, nearer.sigma_px, nearer.misfit_ratio, nearer.strength});
      block.edge.doubt_px = std::max(block.edge.doubt_px, apart_px);
    }
  }
  if (pair && pair->further) block.places.push_back(*pair->further);
  add_elsewhere(block.places, others);
}

bool knows(const BareJig& jig, const Vector2d& px) {
  constexpr double kReach_px = 16.0;  // of the widest window, walls included
  return px.x() >= jig.known.x + kReach_px && px.y() >= jig.known.y + kReach_px &&
         px.x() < jig.known.x + jig.known.width - kReach_px && px.y() < jig.known.y + jig.known.height - kReach_px;
}

void measure_edge_on_jig(Stretch& stretch, const Rows& rows, const JigRows& jig, const EdgeSearch& search,
                         EdgeModelStore& models) {
  EdgeBlock& block = stretch.block;
  EdgeModelOptions asked = stretch.options;
  asked.chroma = search.channels.end > 1;
  const std::shared_ptr<const EdgeModel> model = models.get(asked);
  const MeanProfile profile = rows.in_window_of(*model);
  const MeanProfile bare = jig.rows.in_window_of(*model);
  EdgeFit plain = block.edge;
  plain.rivals = block.places;  // all that was seen, with a second edge or without
  std::erase_if(plain.rivals, [&](const EdgePlace& place) { return place.position_px == plain.position_px; });
  block.edge = model->fit_on_jig(profile.values, profile.noise, search, {bare.values, jig.place_sigma_px}, plain);
  block.places = places_of(block.edge);
  block.jig_outside = level_of(bare, model->first_px(), stretch.wall_px + 1.5, stretch.wall_px + 5.0)[0];
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
      part.stretches.push_back({std::move(block), from, to, options, middle_sample.wall_px, disc});
    }
    parts.push_back(std::move(part));
  }
  return parts;
}

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

std::vector<EdgeBlock> measure_blocks(const View& view, const BlankPlace& place, const BlockMeasuring& measuring) {
  std::vector<EdgeBlock> blocks;
  const std::vector<OutlineSample> samples = measured_samples(view, place);
  for (PartStretches& part : stretches_of(samples, view.is_disc(), view.blur, reach_for(view.blur.luma_px),
                                          kTablesRangePx, measuring.curved_shade)) {
    const Strip strip = strip_of(view.photo, part);
    std::optional<Strip> bare;
    if (view.bare_jig != nullptr) bare = strip_of(view.bare_jig->photo, part);
    for (Stretch& stretch : part.stretches) {
      const double with_wall_px = range_with_wall_px(stretch.options, measuring.range_px);
      stretch.options.range_px = std::max(stretch.options.range_px, with_wall_px);
      const EdgeSearch search{all_channels(view.photo), measuring.across_walls ? with_wall_px : measuring.range_px};
      const Rows rows(strip, static_cast<int>(stretch.from), static_cast<int>(stretch.to));
      measure_edge(stretch, rows, search, view.models);
      if (bare && knows(*view.bare_jig, stretch.block.px))
        measure_edge_on_jig(
            stretch, rows,
            {Rows(*bare, static_cast<int>(stretch.from), static_cast<int>(stretch.to)), view.bare_jig->place_sigma_px},
            search, view.models);
      blocks.push_back(std::move(stretch.block));
    }
  }
  return blocks;
}

}  // namespace jigtrue
