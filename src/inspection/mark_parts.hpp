// A mark's place anew from its parts, each let go its own way.
#pragma once
#include <vector>

#include "inspection/mark_fitter.hpp"

namespace jigtrue {

struct PlaceByParts {
  MarkPose pose;
  Matrix3d covariance = Matrix3d::Identity();  // of u, v, turn
  double scatter_mm = 0.0;                     // of the parts, beyond what the texture does to them; standard, one axis
};

// How far the parts scatter beyond what the texture does to them tells what else there is: a beam's lines, a camera's
// edges, a drawing that is not burned as it was drawn. That scatter, one for all parts and both axes, is the likeliest
// one by restricted likelihood (random effects: R. DerSimonian & N. Laird, Controlled Clinical Trials 7, 1986;
// D. A. Harville, JASA 72, 1977); the parts are weighed by both. `bounds`: of the parts, mm along the drawing.
// `residual`: what `fit` leaves of the light, the ground's loss taken.
[[nodiscard]] PlaceByParts place_by_parts(const Unrolled& on, const Texture& texture, const InkRaster& ink,
                                          const MarkFit& fit, const std::vector<double>& bounds,
                                          const cv::Mat1f& residual);

}  // namespace jigtrue
