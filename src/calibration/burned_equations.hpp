// The equations of burned marks: a pose, and what the machine that burned them does to them. Internal.
#pragma once
#include "jigtrue/calibration/burned_fit.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

struct BurnedState {
  Rigid camera_from_bed;
  double scale_x_less_y = 0.0;
  double squareness_rad = 0.0;
};
// In this order: rotation vector (left of the rotation), translation, scale_x_less_y, squareness_rad.
constexpr Eigen::Index kBurnedUnknowns = 8;
[[nodiscard]] BurnedState moved(const BurnedState& state, const VectorXd& step);

struct BurnedEquations {
  VectorXd residuals;  // predicted less seen, over sigma, x and y of mark after mark; then what is expected of the two
  MatrixXd by_state;
  MatrixXd by_lens;
};
// Nothing where a mark leaves the lens's field.
[[nodiscard]] std::optional<BurnedEquations> burned_equations(const Lens& lens, const std::vector<PlacedMark>& marks,
                                                              const BurnedState& state);

[[nodiscard]] Vector3d middle_of(const std::vector<PlacedMark>& marks);
// The marks' own places are uncertain too: as seen in the picture, by its local scale.
[[nodiscard]] std::vector<PlacedMark> with_place_sigma(const Lens& lens, std::vector<PlacedMark> marks,
                                                       const Rigid& camera_from_bed, double place_sigma_mm);
// Points, where they were seen, residuals (px) and their rms; marks as weighed in `list`.
void set_pose(PoseFit& pose, const std::vector<PlacedMark>& marks, const BurnedEquations& list,
              const BurnedState& state);

}  // namespace jigtrue
