#include "detection/second_edge.hpp"

#include <cmath>
#include <stdexcept>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

// wider apart as they lie farther out: a wall's place matters less there
constexpr std::array kBeyondPx{1.25, 2.0, 2.75, 3.5, 4.5, 5.5, 7.0};
constexpr double kLeastBesidePx = 1.0;  // of the window, beyond the other edge

Eigen::Index in_steps(double distance_px) { return std::lround(distance_px / kStepGridPx); }

// A step's products with the terms and with itself, over a profile with the first edge at one place.
struct StepProducts {
  TermsRow with_terms{};
  double square = 0.0;
};
std::vector<StepProducts> step_products(const EdgeTerms& terms, const RowTables& rows, double first_px,
                                        double from_first_edge_px, double sigma_px) {
  std::vector<double> steps;
  for (Eigen::Index i = 0; i < (terms.columns - 1) * terms.stride + terms.places; ++i)
    steps.push_back(blurred_step(first_px + static_cast<double>(i) * kPlaceStepPx - from_first_edge_px, sigma_px));
  std::vector<StepProducts> products(static_cast<std::size_t>(terms.places));
  StepProducts sum;
  const auto add = [&](Eigen::Index index, double sign) {
    const double step = steps[static_cast<std::size_t>(index)];
    const double* row = rows.row(index);
    for (Eigen::Index t = 0; t < terms.count; ++t) sum.with_terms[static_cast<std::size_t>(t)] += sign * step * row[t];
    sum.square += sign * step * step;
  };
  sum_over_windows(
      terms, [&] { sum = {}; }, add, [&](Eigen::Index place) { products[static_cast<std::size_t>(place)] = sum; });
  return products;
}

SecondEdge second_edge(const EdgeModelOptions& options, const EdgeTerms& terms, double beyond_px) {
  const double first_px = -options.inside_px - options.range_px;
  const double from_first_edge_px = options.wall_px + beyond_px;
  SecondEdge edge;
  edge.beyond_px = beyond_px;
  edge.steps_beyond = in_steps(from_first_edge_px);
  const auto n = static_cast<std::size_t>(terms.count);
  edge.by_terms.reserve(static_cast<std::size_t>(terms.places) * n);
  const auto luma = step_products(terms, terms.luma_rows, first_px, from_first_edge_px, options.blur_px);
  for (Eigen::Index place = 0; place < terms.places; ++place) {
    const StepProducts& step = luma[static_cast<std::size_t>(place)];
    const TermCoefficients by_terms = terms.all.solve(place, step.with_terms);
    const double ridge = terms.all.ridge(place);
    edge.by_terms.insert(edge.by_terms.end(), by_terms.coefficients.begin(),
                         by_terms.coefficients.begin() + terms.count);
    edge.rests.push_back(std::max(step.square + ridge - by_terms.along_terms, ridge));
  }
  if (!options.chroma) return edge;
  edge.chroma_products.reserve(edge.by_terms.size());
  for (const StepProducts& step : step_products(terms, terms.chroma_rows, first_px, from_first_edge_px,
                                                std::hypot(options.blur_px, options.chroma_blur_px))) {
    edge.chroma_products.insert(edge.chroma_products.end(), step.with_terms.begin(),
                                step.with_terms.begin() + terms.count);
    edge.chroma_squares.push_back(step.square);
  }
  return edge;
}

}  // namespace

StepRows::StepRows(double first_px, Eigen::Index columns, double step_px, double lowest_px, Eigen::Index count,
                   double sigma_px)
    : count_(count) {
  const Eigen::Index stride = std::lround(step_px / kStepGridPx);
  const Eigen::Index rows = (columns - 1) * stride + count;
  rows_ = RowTables(rows, stride, 1);
  const double from_px = first_px - lowest_px - static_cast<double>(count - 1) * kStepGridPx;
  for (Eigen::Index i = 0; i < rows; ++i)
    rows_.push_back({blurred_step(from_px + static_cast<double>(i) * kStepGridPx, sigma_px)});
}

SecondEdges tabulate_second_edges(const EdgeModelOptions& options, const EdgeTerms& terms, const SmoothBasis& smooth) {
  constexpr double kRoundingSteps = 1e-6;  // of the grid
  const double wall_steps = options.wall_px / kStepGridPx;
  if (std::abs(wall_steps - std::round(wall_steps)) > kRoundingSteps)
    throw std::logic_error("the wall beside an edge is no multiple of the grid of second edges");
  SecondEdges second;
  for (const double beyond_px : kBeyondPx)
    if (options.wall_px + beyond_px <= options.outside_px - kLeastBesidePx)
      second.edges.push_back(second_edge(options, terms, beyond_px));
  if (second.edges.empty()) return second;
  const double first_px = -options.inside_px;
  second.steps = in_steps(2.0 * options.range_px) + second.edges.back().steps_beyond + 1;
  const auto rows = [&](double sigma_px) {
    return StepRows(first_px, terms.columns, options.step_px, -options.range_px, second.steps, sigma_px);
  };
  second.luma = rows(options.blur_px);
  if (options.chroma) second.chroma = rows(std::hypot(options.blur_px, options.chroma_blur_px));

  constexpr Eigen::Index kAloneSteps = 5;  // every fifth: a quarter of a pixel
  for (Eigen::Index place = second.edges.front().steps_beyond; place < second.steps; place += kAloneSteps) {
    StepAlone alone;
    alone.place = place;
    alone.px = -options.range_px + static_cast<double>(place) * kStepGridPx;
    if (alone.px < first_px + options.blur_px - kRounding_px) continue;
    if (alone.px > options.outside_px - options.blur_px + kRounding_px) break;
    const Eigen::Map<const VectorXd> step(second.luma.at(place), terms.columns);
    alone.by_smooth = smooth.transpose() * step;
    alone.square = step.squaredNorm() - alone.by_smooth.squaredNorm();
    second.alone.push_back(alone);
  }
  return second;
}

}  // namespace jigtrue
