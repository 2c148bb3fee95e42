// The place that an outline's blocks agree on, by weighted least squares with priors; and by robust ones.
#pragma once
#include "jigtrue/detection/outline_fit.hpp"

#include <array>
#include <vector>

namespace jigtrue {

// What is known before: the options' priors, told from where the outline was laid.
struct PlacePriors {
  const OutlineFitOptions& options;
  BlankPlace laid_at;
  bool turns = true;  // a disc does not

  [[nodiscard]] double girth_mm() const { return options.girth_centre_mm - laid_at.girth_mm; }
  [[nodiscard]] double length_mm() const { return options.length_centre_mm - laid_at.length_mm; }
};

using PartScatter = std::array<double, kOutlineParts>;  // px

struct Solution {
  std::vector<double> weights;  // of the blocks
  PartScatter scatter_px{};     // what the priors of the ends' shifts were made from
  double half_length_mm = 1.0;
  VectorXd unknowns;  // place parameters, then one shift a part, left and right rims apart
  MatrixXd covariance;
  MatrixXd response;

  // What the shift and slope of the block's limb put into its position.
  [[nodiscard]] double nuisance(const EdgeBlock& block) const;
};

// On the way to a solution its covariance and response are not asked for.
enum class Told { unknowns, all };
[[nodiscard]] Solution solve(const std::vector<EdgeBlock>& blocks, const std::vector<double>& weights,
                             const PartScatter& scatter_px, const PlacePriors& priors, Told told);

// The place of a block's edge that a supposed outline speaks for: the nearest, a clearer one before a fainter.
void choose_place(EdgeBlock& block, double predicted_px);
// This one.
void take(EdgeBlock& block, const EdgePlace& place);

// Robust solution: weights by Cauchy's loss on residuals over their scale, which comes from the residuals themselves.
// Each block's edge is the one nearest to what the others say.
[[nodiscard]] Solution settle(std::vector<EdgeBlock>& blocks, const PlacePriors& priors);

}  // namespace jigtrue
