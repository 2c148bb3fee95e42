// Stretches of an outline that are measured as one, and what is measured at each.
#pragma once
#include "jigtrue/detection/outline_edges.hpp"
#include "jigtrue/detection/row_mean.hpp"

#include <cstddef>
#include <vector>

#include "detection/edge_windows.hpp"

namespace jigtrue {

inline constexpr double kSmallestRatio = 1.6;  // an edge must leave clearly less misfit than a smooth profile

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

// A stretch of the outline that is measured as one, with what is known of its edge beforehand.
struct Stretch {
  EdgeBlock block;
  std::size_t from;
  std::size_t to;  // of the part's samples
  EdgeModelOptions options;
  double wall_px;
  bool rim;  // a disc's: raised, rounded or chamfered, it shows edges side by side, and only the circle tells its own
};

struct PartStretches {
  std::vector<OutlineSample> samples;
  std::vector<Stretch> stretches;
};

// The outline's points at the spacing that is measured at.
[[nodiscard]] std::vector<OutlineSample> measured_samples(const View& view, const BlankPlace& place,
                                                          OutlineOptions of = {});

// All parts of the outline, each cut into stretches.
[[nodiscard]] std::vector<PartStretches> stretches_of(const std::vector<OutlineSample>& samples, bool disc,
                                                      const PictureBlur& blur, const Reach& reach, double range_px,
                                                      bool curved_shade);

// The strip of a part, as wide as the widest window of its stretches, whole or narrowed.
[[nodiscard]] Strip strip_of(const Photo& photo, const PartStretches& part);

// Rows of the jig without blanks beside those of a photo.
struct JigRows {
  Rows rows;
  double place_sigma_px = 0.0;  // how far they may lie off
};
// Whether the bare jig is known about there, as far as a profile reaches.
[[nodiscard]] bool knows(const BareJig& jig, const Vector2d& px);

// Fills what a stretch measures: its edge, where else that may lie, and what lies on either side.
void measure_edge(Stretch& stretch, const Rows& rows, const EdgeSearch& search, EdgeModelStore& models);
// The same once more, for a stretch beside which the jig is known.
void measure_edge_on_jig(Stretch& stretch, const Rows& rows, const JigRows& jig, const EdgeSearch& search,
                         EdgeModelStore& models);

[[nodiscard]] ChannelRange all_channels(const Photo& photo);

// How the blocks of an outline are measured.
struct BlockMeasuring {
  double range_px = 3.0;
  bool across_walls = false;  // as far as a wall's foot, too
  bool curved_shade = true;   // EdgeModelOptions
};
[[nodiscard]] std::vector<EdgeBlock> measure_blocks(const View& view, const BlankPlace& place,
                                                    const BlockMeasuring& measuring);

}  // namespace jigtrue
