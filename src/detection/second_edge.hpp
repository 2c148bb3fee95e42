// What another edge further out adds to an edge's model: a pocket's wall or a shadow's rim beside a sharp edge.
//
// One column q more in the normal equations N a = p of the terms. With v = N^-1 T^T q and r = q^T q - (T^T q)^T v, what
// q has that the terms lack, its amount is (q^T y - v^T p) / r and the others' change by -v times that (the Schur
// complement: Golub & Van Loan, Matrix Computations). v and r hang on neither the profile nor its rows' sums, so each
// of the distances costs a few products per place (with a factor for each
// a check takes 7 to 35 % longer).
#pragma once
#include <array>
#include <vector>

#include "detection/edge_terms.hpp"

namespace jigtrue {

// Blurred steps at every place of the other edge, for profiles to be multiplied with.
class StepRows {
 public:
  StepRows() = default;
  // A profile begins at first_px; the other edge lies from lowest_px on at `count` places kStepGridPx apart.
  StepRows(double first_px, Eigen::Index columns, double step_px, double lowest_px, Eigen::Index count,
           double sigma_px);

  // What a profile sees of a step at this place: `columns` values.
  [[nodiscard]] const double* at(Eigen::Index place) const { return rows_.row(count_ - 1 - place); }

 private:
  RowTables rows_;
  Eigen::Index count_ = 0;
};

inline constexpr double kStepGridPx = 0.05;   // walls and distances are multiples of it
inline constexpr double kRounding_px = 1e-9;  // of such a multiple

// The other edge at one distance beyond the first (and its wall). Packed place after place.
struct SecondEdge {
  double beyond_px = 0.0;
  Eigen::Index steps_beyond = 0;  // from the first edge, in places of the other one
  std::vector<double> by_terms;   // v
  std::vector<double> rests;      // r
  // Under the chroma's blur: the step's products with the terms, and with itself.
  std::vector<double> chroma_products;
  std::vector<double> chroma_squares;
};

// A step by itself, without the first edge: what it adds to a smooth profile.
struct StepAlone {
  Eigen::Index place = 0;
  double px = 0.0;
  Vector3d by_smooth = Vector3d::Zero();  // its products with the smooth profiles
  double square = 0.0;                    // of what is left of it without them
};

struct SecondEdges {
  StepRows luma;
  StepRows chroma;
  Eigen::Index steps = 0;  // places of the other edge
  std::vector<SecondEdge> edges;
  std::vector<StepAlone> alone;
};

// Throws std::logic_error for a wall that is no multiple of the grid.
[[nodiscard]] SecondEdges tabulate_second_edges(const EdgeModelOptions& options, const EdgeTerms& terms,
                                                const SmoothBasis& smooth);

}  // namespace jigtrue
