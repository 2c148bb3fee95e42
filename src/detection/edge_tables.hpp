// What an edge model computes once for all the profiles that it is asked about.
#pragma once
#include "jigtrue/detection/edge_fit.hpp"

#include <array>
#include <optional>

#include "detection/edge_terms.hpp"
#include "detection/second_edge.hpp"

namespace jigtrue {

// Grey levels of a mean of rounded values; keeps a flat synthetic picture finite.
inline constexpr double kQuantisationNoise = 0.15;

struct EdgeModel::Tables {
  EdgeTerms terms;
  // A profile without the edge is smooth: an orthonormal basis.
  SmoothBasis smooth;
  std::optional<SecondEdges> second;
};

}  // namespace jigtrue
