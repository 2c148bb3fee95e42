// What a lens makes of a sharp profile, by quadrature: independent of the edge model's own tables.
#pragma once
#include <cmath>

namespace jigtrue::test {

// `sharp` at x, blurred by a Gaussian of this sigma, px.
template <class Sharp>
double blurred(const Sharp& sharp, double x, double sigma_px) {
  double sum = 0.0;
  double weights = 0.0;
  for (double t = -5.0 * sigma_px; t <= 5.0 * sigma_px; t += 0.01) {
    const double weight = std::exp(-0.5 * t * t / (sigma_px * sigma_px));
    sum += weight * sharp(x + t);
    weights += weight;
  }
  return sum / weights;
}

}  // namespace jigtrue::test
