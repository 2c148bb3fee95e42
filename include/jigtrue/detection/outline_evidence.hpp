// How much a measured outline speaks for a blank there rather than for edges that stand there by chance.
//
// For every stretch of the outline the likelihood of the edge that it shows, near where the outline says, is held
// against that of clutter: edges at least as plain, anywhere (a probabilistic contour discriminant: MacCormick & Blake,
// ICCV 1998). Clutter is not supposed but counted, in this very photo, along outlines laid where no blank is expected
// to lie.
#pragma once
#include "jigtrue/detection/outline_fit.hpp"

#include <algorithm>
#include <array>
#include <vector>

namespace jigtrue {

// How far a good blank's edges stray from the declared form; its ends, and a flat blank's rim, are sawn, rounded,
// chamfered: common practice, no source.
inline constexpr double kSideForm_mm = 0.06;
inline constexpr double kEndsForm_mm = 0.09;

// Edges of stretches where no outline is, sides and ends apart.
class EdgeClutter {
 public:
  void add(const std::vector<EdgeBlock>& blocks, double range_px);
  void add(const EdgeClutter& other);
  void finish();  // after the last add
  // Counted elsewhere as well: the denser of the two is what per_px tells.
  void beside(const EdgeClutter& elsewhere);

  // Edges of at least this misfit ratio for each px along the normal; never less than one in all that was looked at.
  [[nodiscard]] double per_px(OutlinePart part, double misfit_ratio) const;

 private:
  struct Kind {
    std::vector<double> misfit_ratios;  // falling
    double looked_at_px = 0.0;
  };
  using Count = std::array<Kind, 2>;  // sides, ends
  Count own_;
  std::vector<Count> elsewhere_;
};

// A stretch beside another on one line of clutter agrees with it, so a part tells no more than so many of its stretches
// do: a line's place, direction and extent.
inline constexpr int kIndependentStretches = 3;

struct PartEvidence {
  double log_ratio = 0.0;  // sum over its stretches, each as if it told independently of the others
  int stretches = 0;
  int agreeing = 0;  // that show an edge where the outline says
  // What it tells as far as its stretches tell independently.
  [[nodiscard]] double independent_log_ratio() const {
    return log_ratio * std::min(1.0, static_cast<double>(kIndependentStretches) / std::max(stretches, 1));
  }
  [[nodiscard]] double share() const { return stretches > 0 ? static_cast<double>(agreeing) / stretches : 0.0; }
};
// Whether a part is seen: clutter would do as well once in a hundred, and most of its stretches agree.
[[nodiscard]] bool is_shown(const PartEvidence& part);
using OutlineEvidence = std::array<PartEvidence, kOutlineParts>;

[[nodiscard]] OutlineEvidence evidence_of(const OutlineFit& fit, const EdgeClutter& clutter);

// How much the surfaces on either side of the outline speak for two materials, one inside and one outside, rather than
// for one that is only lit differently (a groove's or a pocket's walls): a log ratio of marginal likelihoods. A
// difference that all parts share, of colour or of brightness, is what two materials make.
[[nodiscard]] double two_materials_log_ratio(const OutlineFit& fit);

}  // namespace jigtrue
