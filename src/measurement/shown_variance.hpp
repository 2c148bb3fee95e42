// The variance of an error of which a measurement shows only others of the same kind, and few of them.
#pragma once

namespace jigtrue {

// `squares`: the sum of so many showings' squares, each in proportion to the variance asked for; `prior`: what was
// believed of it before. A variance read off so few is itself known badly: the error then follows Student's t, whose
// variance is nu / (nu - 2) times what was read off (JCGM 101:2008, 6.4.9.4). More than two showings.
[[nodiscard]] inline double shown_variance(double prior, double squares, double showings) {
  constexpr double kPrior = 0.5;  // showings: as little as a prior says that leaves the scale open (Jeffreys)
  return (kPrior * prior + squares) / (kPrior + showings - 2.0);
}

}  // namespace jigtrue
