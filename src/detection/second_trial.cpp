#include "detection/second_trial.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

// Where, among the places of the other edge, one lies this far beyond the first.
Eigen::Index step_at(Eigen::Index place, const SecondEdge& edge) {
  static_assert(kPlaceStepPx == 2.0 * kStepGridPx);
  return 2 * place + edge.steps_beyond;
}

// The luma with both edges.
struct SecondLuma {
  TermsRow coefficients{};  // of the terms
  double step = 0.0;        // of the other edge
  double misfit = 0.0;
};
SecondLuma with_second(SecondView& view, const SecondEdge& edge, Eigen::Index place, const TermCoefficients& first) {
  const TermSolver& solver = view.solver();
  const TermsRow& projected = view.profile.luma(place).luma;
  const double* by_terms = edge.by_terms.data() + static_cast<std::size_t>(place) * solver.count;
  double rest = view.step(0, step_at(place, edge));
  for (std::size_t t = 0; t < solver.count; ++t) rest -= by_terms[t] * projected[t];
  SecondLuma luma;
  luma.step = rest / edge.rests[static_cast<std::size_t>(place)];
  double squares = luma.step * luma.step;
  for (std::size_t t = 0; t < solver.count; ++t) {
    luma.coefficients[t] = first.coefficients[t] - luma.step * by_terms[t];
    squares += luma.coefficients[t] * luma.coefficients[t];
  }
  const double explained = first.along_terms + luma.step * rest + solver.ridge(place) * squares;
  luma.misfit = std::max(view.profile.whole(0) - explained, 0.0);
  return luma;
}

}  // namespace

SecondView::SecondView(Projections& projections, const SecondEdges& edges, const Profile& profile_values,
                       ChannelRange range)
    : profile(projections), second(edges), values(profile_values), channels(range) {}

double SecondView::step(std::size_t channel, Eigen::Index place) const {
  const StepRows& rows = channel == 0 ? second.luma : second.chroma;
  return Eigen::Map<const VectorXd>(rows.at(place), values[channel].size()).dot(values[channel]);
}

std::vector<bool> may_leave_less(SecondView& view, Eigen::Index first, Eigen::Index end, double squares) {
  const std::vector<SecondEdge>& edges = view.second.edges;
  std::vector<bool> may(edges.size(), false);
  for (Eigen::Index place = first; place < end; ++place) {
    const TermCoefficients alone = view.solver().solve(place, view.profile.luma(place).luma);
    for (std::size_t k = 0; k < edges.size(); ++k)
      if (!may[k]) may[k] = with_second(view, edges[k], place, alone).misfit < squares;
  }
  return may;
}

SecondTrial::SecondTrial(SecondView& view, const SecondEdge& edge)
    : view_(view), edge_(edge), misfit_(view.profile.terms().places, kChannels) {
  misfit_.setConstant(-1.0);
}

void SecondTrial::look(Eigen::Index place) {
  if (misfit_(place, 0) >= 0.0) return;
  const TermCoefficients first = view_.solver().solve(place, view_.profile.luma(place).luma);
  const SecondLuma luma = with_second(view_, edge_, place, first);
  misfit_(place, 0) = luma.misfit;
  if (view_.channels.end > 1) look_at_chroma(place, luma.coefficients, luma.step);
}

void SecondTrial::look_at_chroma(Eigen::Index place, const TermsRow& coefficients, double step) {
  const TermSolver& solver = view_.solver();
  TwoColumns columns = chroma_columns(solver, place, coefficients);
  const double* products = edge_.chroma_products.data() + static_cast<std::size_t>(place) * solver.count;
  double with_beside = 0.0;
  for (std::size_t t = 0; t < solver.count; ++t)
    (t < solver.inside ? columns.ab : with_beside) += step * coefficients[t] * products[t];
  columns.bb += 2.0 * with_beside + step * step * edge_.chroma_squares[static_cast<std::size_t>(place)];
  const std::array<TermsRow, 2>& projected = view_.profile.luma_and_chroma(place).chroma;
  for (std::size_t c = 1; c < kChannels; ++c) {
    const TwoProducts with_terms = chroma_products(solver, coefficients, projected[c - 1]);
    const double beside = with_terms.beside + step * view_.step(c, step_at(place, edge_));
    misfit_(place, static_cast<Eigen::Index>(c)) = columns.misfit(with_terms.blank, beside, view_.profile.whole(c));
  }
}

AloneSteps::AloneSteps(const SecondView& view, const Profile& profile, const SmoothBasis& smooth)
    : second_(view.second), channels_(view.channels), squares_(view.second.alone.size()) {
  for (int c = channels_.first; c < channels_.end; ++c) {
    const auto channel = static_cast<std::size_t>(c);
    const VectorXd& y = profile[channel];
    const Vector3d by_smooth = smooth.transpose() * y;
    for (std::size_t k = 0; k < squares_.size(); ++k) {
      const StepAlone& step = second_.alone[k];
      const double product = Eigen::Map<const VectorXd>(second_.luma.at(step.place), y.size()).dot(y);
      const double rest = product - step.by_smooth.dot(by_smooth);
      squares_[k][channel] = rest * rest / step.square;
    }
  }
}

double AloneSteps::most_explained(double from_px, double to_px, const std::array<double, kChannels>& variance) const {
  double most = 0.0;
  for (std::size_t k = 0; k < squares_.size(); ++k) {
    if (second_.alone[k].px < from_px - kRounding_px || second_.alone[k].px > to_px + kRounding_px) continue;
    double explained = 0.0;
    for (int c = channels_.first; c < channels_.end; ++c)
      explained += squares_[k][static_cast<std::size_t>(c)] / variance[static_cast<std::size_t>(c)];
    most = std::max(most, explained);
  }
  return most;
}

}  // namespace jigtrue
