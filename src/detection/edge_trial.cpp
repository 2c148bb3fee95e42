#include "detection/edge_trial.hpp"

#include <algorithm>
#include <limits>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr std::size_t kUnseen = std::numeric_limits<std::size_t>::max();  // no place has this index

// sums[t] = sum over rows of rows[row][t] * profile[row]: a row's terms lie side by side.
void project(const double* rows, Eigen::Index count, const double* profile, TermsRow& sums) {
  using Row = Eigen::Array<double, kMostTerms, 1>;
  Row sum = Row::Zero();
  for (Eigen::Index j = 0; j < count; ++j) sum += Eigen::Map<const Row>(rows + j * kMostTerms) * profile[j];
  Eigen::Map<Row>{sums.data()} = sum;
}

}  // namespace

double TwoColumns::misfit(double ay, double by, double whole) const {
  const double determinant = aa * bb - ab * ab;
  if (determinant > 1e-9 * aa * bb)
    return std::max(whole - (ay * (bb * ay - ab * by) + by * (aa * by - ab * ay)) / determinant, 0.0);
  const double larger = std::max(aa, bb);
  if (!(larger > 0.0)) return whole;
  const double product = aa >= bb ? ay : by;
  return std::max(whole - product * product / larger, 0.0);
}

TwoColumns chroma_columns(const TermSolver& solver, Eigen::Index place, const TermsRow& coefficients) {
  const double* products = solver.products(place);
  TwoColumns columns;
  for (std::size_t i = 0; i < solver.count; ++i) {
    double with_blank = 0.0;
    double with_beside = 0.0;
    for (std::size_t k = 0; k < i; ++k)
      (k < solver.inside ? with_blank : with_beside) += products[packed(i, k)] * coefficients[k];
    const double square = coefficients[i] * coefficients[i] * products[packed(i, i)];
    if (i < solver.inside) {
      columns.aa += 2.0 * coefficients[i] * with_blank + square;
    } else {
      columns.ab += coefficients[i] * with_blank;
      columns.bb += 2.0 * coefficients[i] * with_beside + square;
    }
  }
  return columns;
}

Projections::Projections(const EdgeTerms& terms, const Profile& profile, ChannelRange channels)
    : terms_(terms), profile_(profile), index_(static_cast<std::size_t>(terms.places), kUnseen) {
  places_.reserve(index_.size());
  for (std::size_t c = 0; c < static_cast<std::size_t>(channels.end); ++c) whole_[c] = profile_[c].squaredNorm();
}

Projections::Place& Projections::seen(Eigen::Index place) {
  std::size_t& index = index_[static_cast<std::size_t>(place)];
  if (index != kUnseen) return places_[index];
  index = places_.size();
  Place& there = places_.emplace_back();
  project(terms_.luma(place), terms_.columns, profile_[0].data(), there.luma);
  return there;
}

const Projections::Place& Projections::luma_and_chroma(Eigen::Index place) {
  Place& there = seen(place);
  if (there.chroma_known) return there;
  there.chroma_known = true;
  for (std::size_t c = 0; c < there.chroma.size(); ++c)
    project(terms_.chroma(place), terms_.columns, profile_[c + 1].data(), there.chroma[c]);
  return there;
}

TwoProducts chroma_products(const TermSolver& solver, const TermsRow& coefficients, const TermsRow& projected) {
  TwoProducts products;
  for (std::size_t t = 0; t < solver.count; ++t)
    (t < solver.inside ? products.blank : products.beside) += coefficients[t] * projected[solver.picks[t]];
  return products;
}

Trial::Trial(const TermSolver& solver, Projections& profile, ChannelRange channels)
    : solver_(solver), profile_(profile), channels_(channels), misfit_(profile.terms().places, kChannels) {
  misfit_.setConstant(-1.0);
}

void Trial::look(Eigen::Index place) {
  if (misfit_(place, 0) >= 0.0) return;
  const TermCoefficients luma = solver_.solve(place, profile_.luma(place).luma);
  double squares = 0.0;
  for (std::size_t k = 0; k < solver_.count; ++k) squares += luma.coefficients[k] * luma.coefficients[k];
  misfit_(place, 0) = std::max(profile_.whole(0) - (luma.along_terms + solver_.ridge(place) * squares), 0.0);
  if (channels_.end > 1) look_at_chroma(place, luma.coefficients);
}

void Trial::look_at_chroma(Eigen::Index place, const TermsRow& coefficients) {
  const TwoColumns columns = chroma_columns(solver_, place, coefficients);
  const std::array<TermsRow, 2>& projected = profile_.luma_and_chroma(place).chroma;
  for (std::size_t c = 1; c < kChannels; ++c) {
    const TwoProducts products = chroma_products(solver_, coefficients, projected[c - 1]);
    misfit_(place, static_cast<Eigen::Index>(c)) = columns.misfit(products.blank, products.beside, profile_.whole(c));
  }
}

}  // namespace jigtrue
