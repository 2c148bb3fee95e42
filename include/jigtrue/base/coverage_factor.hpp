// From standard uncertainties to expanded ones.
#pragma once

namespace jigtrue {

// Half-width of 95 % over the standard deviation, of a normal distribution (GUM, JCGM 100:2008, table G.1).
constexpr double kCoverageFactor95 = 1.96;

}  // namespace jigtrue
