// From a rough place to the place that the outline's edges agree on.
//
// The outline is measured in blocks (a few millimetres of it each). The place is the weighted least-squares solution of
//   block position = by_place . (across, along, turn, girth, length) + shift of its part + noise,
// where the shift of a part (left, right, start, end) is a nuisance with a prior: what shading does to a whole limb.
// Girth and length have the declared tolerances as priors, or none. Blocks that disagree are weighted down (Cauchy).
#pragma once
#include "jigtrue/detection/outline_edges.hpp"

#include <array>
#include <optional>
#include <vector>

namespace jigtrue {

inline constexpr int kFittedParameters = 5;  // kAcross .. kLength; the lift is the seat's

struct PartQuality {
  int blocks = 0;
  int used = 0;
  double scatter_px = 0.0;    // robust, of the used blocks' residuals
  double misfit_ratio = 0.0;  // median over used blocks
  double strength = 0.0;      // as well, grey levels
  [[nodiscard]] double share() const { return blocks > 0 ? static_cast<double>(used) / blocks : 0.0; }
};

struct OutlineFit {
  BlankPlace place;
  std::vector<EdgeBlock> blocks;
  std::array<PartQuality, kOutlineParts> parts;
  // Of px noise and limb shifts, priors included.
  Eigen::Matrix<double, kFittedParameters, kFittedParameters> covariance =
      Eigen::Matrix<double, kFittedParameters, kFittedParameters>::Zero();
  // Solution per px of each block's position: place change = gain_matrix * positions. Carries other errors into the
  // place.
  Eigen::Matrix<double, kFittedParameters, Eigen::Dynamic> response;
  double girth_centre_mm = 0.0;  // where its priors lay
  double length_centre_mm = 0.0;
  // Of options.known, the one that this fit came upon: of all else only the place is told.
  std::optional<std::size_t> known;
  double girth_free_mm = 0.0;  // girth from these same blocks without its prior; the fitted one where a side is hidden
  double girth_free_sigma_mm = 0.0;

  [[nodiscard]] const PartQuality& part(OutlinePart p) const { return parts[static_cast<std::size_t>(p)]; }
};

struct OutlineFitOptions {
  bool curved_shade = true;     // see EdgeModelOptions
  double range_px = 3.0;        // first round; later ones look less far
  double limb_sigma_px = 0.25;  // prior of a part's common shift
  double end_sigma_px = 0.5;
  double rim_sigma_mm = 0.3;             // the rim's own place against the groove
  std::optional<double> girth_sigma_mm;  // priors; none: free
  std::optional<double> length_sigma_mm;
  double girth_centre_mm = 0.0;  // where the priors lie
  double length_centre_mm = 0.0;
  // Earlier fits of the same outline from other starts. One that comes upon the place of one of these, its priors where
  // that one's lay, would come to rest there: it ends.
  std::vector<const OutlineFit*> known;
};

// Nothing when too little of the outline is in the picture to solve for the place.
[[nodiscard]] std::optional<OutlineFit> fit_outline(const View& view, const BlankPlace& start,
                                                    const OutlineFitOptions& options);

}  // namespace jigtrue
