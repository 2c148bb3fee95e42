// What is known of marks and of machines before a photo tells more, and when a photo contradicts it.
#pragma once

namespace jigtrue {

// How well places are known beforehand counts as so many observations: the residuals of many marks outvote it.
inline constexpr double kPriorWeight = 4.0;

// A mark that lies this far from where the others put it is not where its file has it: eight times what callipers may
// be off by. Common practice, no source.
inline constexpr double kContradicts_mm = 0.4;

// Neither a print's scale nor a machine's is off by so much: common practice, no source.
inline constexpr double kOddScale = 0.02;

}  // namespace jigtrue
