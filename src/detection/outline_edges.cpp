#include "jigtrue/detection/outline_edges.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

#include "detection/edge_blocks.hpp"

namespace jigtrue {

namespace {

double nearest_to_middle_mm(const SideStretch& stretch) {
  return std::signbit(stretch.from_mm) == std::signbit(stretch.to_mm)
             ? std::min(std::abs(stretch.from_mm), std::abs(stretch.to_mm))
             : 0.0;
}

}  // namespace

std::vector<EdgeBlock> edges_along(const View& view, const BlankPlace& place, double range_px) {
  return measure_blocks(view, place, {range_px, false, true});
}

std::vector<std::optional<EdgeFit>> edges_beside(const View& view, const BlankPlace& place,
                                                 const std::vector<SideStretch>& stretches) {
  constexpr std::size_t kFewestSamples = 4;  // of a stretch, for a mean that one stray row does not rule
  OutlineOptions sides;
  sides.extent = OutlineExtent::sides;
  sides.sides_from_mm = std::numeric_limits<double>::infinity();
  for (const SideStretch& stretch : stretches)
    sides.sides_from_mm = std::min(sides.sides_from_mm, nearest_to_middle_mm(stretch));
  const std::vector<OutlineSample> outline = measured_samples(view, place, sides);
  const Reach reach = reach_for(view.blur.luma_px);
  std::vector<std::optional<EdgeFit>> edges;
  for (const SideStretch& stretch : stretches) {
    const auto [low_mm, high_mm] = std::minmax(stretch.from_mm, stretch.to_mm);
    std::vector<OutlineSample> samples;
    for (const OutlineSample& sample : outline)
      if (sample.part == stretch.part && !sample.rim && sample.station_mm >= low_mm && sample.station_mm <= high_mm)
        samples.push_back(sample);
    edges.emplace_back();
    if (samples.size() < kFewestSamples) continue;
    EdgeModelOptions options = model_options(0.0, 0.0, view.blur, reach, 2.0);
    options.inside_px = inside_px_for(samples[samples.size() / 2].radius_px, reach);
    options.chroma = view.photo.has_colour();
    const std::shared_ptr<const EdgeModel> model = view.models.get(options);
    const Strip strip = sample_strip(view.photo, samples, -reach.inside_px, reach.outside_px, kProfileStepPx);
    const MeanProfile profile = Rows(strip, 0, strip.rows).in_window_of(*model);
    const EdgeSearch search{all_channels(view.photo), model->options().range_px};
    edges.back() = model->fit(profile.values, profile.noise, search);
    if (view.bare_jig == nullptr || !knows(*view.bare_jig, samples[samples.size() / 2].px)) continue;
    const Strip bare = sample_strip(view.bare_jig->photo, samples, -reach.inside_px, reach.outside_px, kProfileStepPx);
    edges.back() = model->fit_on_jig(
        profile.values, profile.noise, search,
        {Rows(bare, 0, bare.rows).in_window_of(*model).values, view.bare_jig->place_sigma_px}, *edges.back());
  }
  return edges;
}

}  // namespace jigtrue
