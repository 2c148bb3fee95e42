// How likely it is that a reading is the blank, and that a slot is empty: logistic discriminants (Cox, "The regression
// analysis of binary sequences", J. Roy. Statist. Soc. B 20, 1958) of what a reading shows. Their weights are fitted to
// traced pictures of random jigs, woods and lights with known truth (tests/scenes/weigh.py), none of them from a
// camera of a user; the rates that they reach on pictures left out of the fit stand in DEVELOPERS.md.
#pragma once
#include "jigtrue/detection/readings.hpp"

#include <array>

namespace jigtrue {

// What a reading shows, in the order of the weights. Gains enter as logarithms, 0 to log 30; scatter in px, at most 2.
inline constexpr int kReadingTraits = 25;
using ReadingTraits = std::array<double, kReadingTraits>;
[[nodiscard]] ReadingTraits traits_of(const Reading& reading, const Blank& blank, double ends_at_expected);

// Logarithm of the odds that the reading's outline is the blank's own.
[[nodiscard]] double log_odds_of_blank(const ReadingTraits& traits, const BlankShape& shape);

// What all readings of a slot show together; needs their log odds.
inline constexpr int kSlotTraits = 11;
using SlotTraits = std::array<double, kSlotTraits>;
[[nodiscard]] SlotTraits traits_of(const Readings& readings);

// Logarithm of the odds that no blank lies there.
[[nodiscard]] double log_odds_of_empty(const SlotTraits& traits, const BlankShape& shape);

// Odds of p against 1 - p, as a logarithm.
[[nodiscard]] double log_odds(double probability);

}  // namespace jigtrue
