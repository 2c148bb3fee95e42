// A profile against an edge's terms with another edge further out.
#pragma once
#include <array>
#include <vector>

#include "detection/edge_trial.hpp"
#include "detection/second_edge.hpp"

namespace jigtrue {

// What a second edge is looked for with: all terms. Keeps references.
struct SecondView {
  Projections& profile;
  const SecondEdges& second;
  const Profile& values;
  ChannelRange channels;

  SecondView(Projections& projections, const SecondEdges& edges, const Profile& profile_values, ChannelRange range);
  [[nodiscard]] const TermSolver& solver() const { return profile.terms().all; }
  // The product of a channel with a step at this place of the other edge.
  [[nodiscard]] double step(std::size_t channel, Eigen::Index place) const;
};

// Which of the other edges leave less of the luma than this sum of squares, with the first one at any of the places
// [first, end): most leave more, which spares them the chroma (else a check of tags or discs takes
// 5 % longer).
[[nodiscard]] std::vector<bool> may_leave_less(SecondView& view, Eigen::Index first, Eigen::Index end, double squares);

// As Trial, with the other edge's amount free, too.
class SecondTrial {
 public:
  SecondTrial(SecondView& view, const SecondEdge& edge);

  [[nodiscard]] const EdgeTerms& terms() const { return view_.profile.terms(); }
  [[nodiscard]] std::size_t luma_terms() const { return view_.solver().count + 1; }
  [[nodiscard]] double misfit(Eigen::Index place, int channel) const { return misfit_(place, channel); }
  void look(Eigen::Index place);

 private:
  SecondView& view_;
  const SecondEdge& edge_;
  Eigen::Matrix<double, Eigen::Dynamic, kChannels> misfit_;  // negative: not looked at

  void look_at_chroma(Eigen::Index place, const TermsRow& coefficients, double step);
};

// What a step by itself, without the first edge, explains of a profile beyond what a smooth one does.
class AloneSteps {
 public:
  AloneSteps(const SecondView& view, const Profile& profile, const SmoothBasis& smooth);
  // The most that one at these distances does, channels by their variance.
  [[nodiscard]] double most_explained(double from_px, double to_px,
                                      const std::array<double, kChannels>& variance) const;

 private:
  const SecondEdges& second_;
  ChannelRange channels_;
  std::vector<std::array<double, kChannels>> squares_;
};

}  // namespace jigtrue
