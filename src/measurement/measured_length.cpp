#include "jigtrue/measurement/measured_length.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {

std::optional<MeasuredLength> measured_length(const OutlineFit& fit, const BlankShape& declared, double prior_sigma_mm,
                                              bool start_seen, bool end_seen) {
  if (std::holds_alternative<DiscBlank>(declared)) return std::nullopt;
  MeasuredLength length;
  length.start_seen = start_seen;
  length.end_seen = end_seen;
  length.taken_mm = length_mm(declared) + fit.place.length_mm;
  // the prior taken out of the posterior again, both being normal
  const double posterior = 1.0 / std::max(fit.covariance(kLength, kLength), 1e-12);
  const double prior = 1.0 / (prior_sigma_mm * prior_sigma_mm);
  const double own = posterior - prior;
  constexpr double kTells = 0.2;  // of what the prior tells; with less it is the prior that was measured
  if (start_seen && end_seen && own > kTells * prior) {
    length.own_mm = length_mm(declared) + (posterior * fit.place.length_mm - prior * fit.length_centre_mm) / own;
    length.own_sigma_mm = std::sqrt(1.0 / own);
  }
  return length;
}

}  // namespace jigtrue
