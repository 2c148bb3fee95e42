// Sub-pixel place of a blank's edge in profiles averaged along a short stretch of its outline.
//
// Model of a profile along the outward normal, x in px, edge at e, d = e - x the depth inside:
//   inside   a0 + a1 d + a2 sqrt(1 - (1 - d/R)^2)
//            a cylinder under distant light: normals turn as the root; sharp edges: a2 = 0
//   wall     c0 between e and e + w
//            where a side of the blank w px wide shows beside the edge; w is known from the geometry
//   outside  b0 + b1 (x - e - w), + b2 (x - e - w)^2 beside a limb, + b3 from e + w + s on
//            s px further on another edge may lie: a pocket's wall, a shadow's rim
// blurred by a Gaussian. All but e are linear and are eliminated (variable projection, Golub & Pereyra 1973), so a
// shaded limb, a shadow beside it and a slope of the light do not pull the edge. Shading dims all colours alike: each
// chroma plane is the luma model times one factor inside (and on the wall) and another outside, with the chroma's own
// blur. Where a dark limb meets its own shadow the luma has no step, but that ratio has. Luma and chroma share e; each
// is weighted by the misfit it shows itself.
#pragma once
#include "jigtrue/detection/strip.hpp"

#include <array>
#include <memory>
#include <optional>
#include <vector>

namespace jigtrue {

struct EdgeModelOptions {
  double blur_px = 0.9;         // Gaussian sigma of the picture
  double chroma_blur_px = 1.5;  // of the chroma planes, added in quadrature: stored at half resolution
  double radius_px = 0.0;       // of the limb; 0 for a sharp edge
  double wall_px = 0.0;         // width of the blank's own side beside the edge, a multiple of 0.05; 0: none seen
  double inside_px = 8.0;       // reach of the window inside the expected edge
  double outside_px = 5.0;
  double range_px = 3.0;  // how far from the expected place the edge can be looked for
  double step_px = 0.5;   // of the profile
  // Whether the light beside a limb may bend, as in a shadow's fringe. It explains soft shadows, which makes edges
  // plain that otherwise are not; a straight slope leaves the edge less room to wander, and so measures it more truly.
  bool curved_shade = true;
  bool chroma = true;         // whether the chroma will be looked at
  bool second_edges = false;  // whether fit_with_second_edge will be asked for
};

// Channels [first, end) that take part.
struct ChannelRange {
  int first = 0;
  int end = kChannels;
};

// What is looked at, and how far from the expected place (at most the model's range).
struct EdgeSearch {
  ChannelRange channels;
  double range_px = 3.0;
};

// Whether to look also without the shading term, and say how far that puts the edge elsewhere.
enum class Doubt { skipped, measured };

// Where an edge may lie in a profile.
struct EdgePlace {
  double position_px = 0.0;   // along the normal from the expected place
  double sigma_px = 0.0;      // from the curvature of the misfit; noise only
  double misfit_ratio = 0.0;  // misfit without an edge over misfit with it (1 = the edge explains nothing)
  double strength = 0.0;      // root mean square of what the edge explains of the profile, grey levels
};

struct EdgeFit {
  double position_px = 0.0;  // along the normal from the expected place
  double sigma_px = 0.0;     // from the curvature of the misfit; noise only
  double doubt_px = 0.0;  // how far a limb without the root's shading would put the edge elsewhere; 0 for sharp edges
  double misfit_ratio = 0.0;  // misfit without an edge over misfit with it (1 = the edge explains nothing)
  double strength = 0.0;      // root mean square of what the edge explains of the profile, grey levels
  double misfit = 0.0;        // mean square of what the model leaves of the luma, grey levels squared
  bool at_rim = false;        // the best place lies at the rim of the range: not a finding
  // Other places where the misfit is locally least: a shadow's edge beside the limb, a grain line. Best first.
  std::vector<EdgePlace> rivals;
};

// What the profile's place shows without a blank: as long as the profile, how far it may lie off along the normal, px.
struct JigProfile {
  const std::array<std::vector<double>, kChannels>& values;
  double place_sigma_px = 0.0;
};

// What a fit with a second edge must show to be told.
struct SecondEdgeGate {
  double smallest_ratio = 0.0;
  double alone_misfit = 0.0;  // EdgeFit::misfit of one edge alone
  double least_gain = 1.0;    // a pair must leave so many times less
  bool either = false;        // the further one may be the blank's, too: a raised or chamfered rim shows several
};

// Two edges in one window. Which of them is the blank's only the whole outline tells.
struct TwoEdges {
  EdgeFit fit;                       // of both: its place is the nearer one's
  bool nearer_passes = false;        // whether that tells enough beside the further one
  std::optional<EdgePlace> further;  // the other one, if it was asked for and lies in the range
};

// The tables for one set of options; costly to make, cheap to use, shared between blocks.
class EdgeModel {
 public:
  explicit EdgeModel(const EdgeModelOptions& options);
  ~EdgeModel();

  [[nodiscard]] const EdgeModelOptions& options() const { return options_; }
  [[nodiscard]] int columns() const { return columns_; }
  [[nodiscard]] double first_px() const { return -options_.inside_px; }
  [[nodiscard]] double last_px() const { return options_.outside_px; }

  // profile[c]: columns() values from first_px() on. noise: standard deviation of one value of each channel's mean.
  [[nodiscard]] EdgeFit fit(const std::array<std::vector<double>, kChannels>& profile,
                            const std::array<double, kChannels>& noise, const EdgeSearch& search,
                            Doubt doubt = Doubt::measured) const;

  // The same window with another edge somewhere beyond the first: the pair that leaves least of the luma. Nothing when
  // none passes the gate.
  [[nodiscard]] std::optional<TwoEdges> fit_with_second_edge(const std::array<std::vector<double>, kChannels>& profile,
                                                             const std::array<double, kChannels>& noise,
                                                             const EdgeSearch& search,
                                                             const SecondEdgeGate& gate) const;

  // The edge once more where it is known what lies beside it: the outside is then the jig itself under a light that
  // varies smoothly, and an edge that the jig shows by itself is none. `plain` is what fit() says; its places stay, for
  // where something else lies beside the blank, as far as the jig alone does not explain them.
  [[nodiscard]] EdgeFit fit_on_jig(const std::array<std::vector<double>, kChannels>& profile,
                                   const std::array<double, kChannels>& noise, const EdgeSearch& search,
                                   const JigProfile& jig, const EdgeFit& plain) const;

 private:
  struct Tables;
  EdgeModelOptions options_;
  int columns_ = 0;
  std::unique_ptr<const Tables> tables_;
};

}  // namespace jigtrue
