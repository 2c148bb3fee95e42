// How surely a pose knows the bed's plane, and what further photos have gained of it. Internal.
#pragma once
#include "jigtrue/geometry/rigid.hpp"
#include "jigtrue/geometry/types.hpp"

#include <cstddef>
#include <string>

namespace jigtrue {

// Sigma of its tilt (root mean square of two axes) and of the camera's height.
struct PlaneSigma {
  double tilt_rad = 0.0;
  double height_mm = 0.0;
};
// joint: of [lens, camera_from_bed].
[[nodiscard]] PlaneSigma plane_sigma(const MatrixXd& joint, const Rigid& camera_from_bed);
// A whole sentence; `first`: what `before` came from.
[[nodiscard]] std::string gain_note(const char* first, std::size_t further, const PlaneSigma& before,
                                    const PlaneSigma& all);

}  // namespace jigtrue
