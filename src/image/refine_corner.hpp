// Sub-pixel centre of a checker corner: a model of the blurred corner fitted to the original pixels by least squares.
//   I(v) = level + light . v + (contrast + fall . v) S_a(v) S_b(v),   v = pixel - centre
//   S_k(v) = erf(d_k(v) / (sqrt(2) blur_k)),   d_k = n_k . v - curvature_k (t_k . v)^2 / 2
// t_k: direction of edge k, n_k: t_k turned by +90 degrees in the picture's axes (x right, y down). light and fall:
// what uneven light does, and apart from it a reflection, which adds to black and white alike. Where the sensor is
// full, or has nothing, a pixel says only that there is no less, or no more. The model is point-symmetric about the
// centre but for these, and so are its known faults (oblique edges under blur, ink that spreads, a tone curve): they do
// not move the centre.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/geometry/types.hpp"

#include <opencv2/core/mat.hpp>

namespace jigtrue {

struct CheckerFit {
  Vector2d px;
  Vector2d edge_a, edge_b;  // unit
  double contrast = 0.0;    // signed half difference, grey levels: positive where S_a S_b > 0 is bright
  double level = 0.0;       // grey level midway between bright and dark
  double blur_a_px = 0.0, blur_b_px = 0.0;
  Vector2d light = Vector2d::Zero();  // what the level changes by, grey levels a px
  double residual_rms = 0.0;          // grey levels
  double share_kept = 1.0;            // of the window's pixels, those with full weight
  double white_variance = 0.0;        // px^2, mean over the two axes, if the pixels' noise were independent
  double lagged_variance = 0.0;       // px^2, what neighbouring pixels' common noise (JPEG, colour filter) adds to it
};

struct CheckerStart {
  Vector2d px;                                  // within about a blur width or two of the centre
  Vector2d edge_a, edge_b;                      // directions of the two edges, any length
  Matrix2d window_px;                           // columns: half axes of the elliptical window
  double curvature_a = 0.0, curvature_b = 0.0;  // 1/px, of the edges as the lens bends them
  double curvature_sigma = 0.0;                 // how far off those may be, 1/px; 0: known
  double blur_px = 1.5;
  double settled_px =
      1e-4;             // the fit ends when it moves the centre by less: a fiftieth of the smallest bias worth naming
  bool robust = false;  // down-weight pixels that do not fit: dirt, scratches
  const CheckerFit* before =
      nullptr;  // the corner as fitted before, in this picture's px: edges, blurs and light of it
};

// Fails when the window leaves the picture or the fit does not settle on a checker corner.
[[nodiscard]] Outcome<CheckerFit> refine_corner(const cv::Mat1b& luma, const CheckerStart& start);

}  // namespace jigtrue
