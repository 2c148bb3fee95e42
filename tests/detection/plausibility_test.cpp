// How likely a reading is the blank: what must raise it and what must lower it, whatever pictures the weights came
// from.
#include "jigtrue/detection/plausibility.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

Blank rod() {
  Blank blank;
  blank.shape = RoundBlank{11.0, 120.0};
  return blank;
}

// All stretches of a part see the edge, `scatter_px` apart.
void see(OutlineFit& fit, OutlinePart part, double gain, double scatter_px) {
  constexpr int kStretches = 5;
  for (int i = 0; i < kStretches; ++i) {
    EdgeBlock block;
    block.part = part;
    block.edge.gain = gain;
    block.residual_px = i % 2 == 0 ? scatter_px : -scatter_px;
    block.used = true;
    block.inside = {120.0, -12.0, 20.0};
    block.outside = {180.0, -4.0, 4.0};
    fit.blocks.push_back(block);
  }
  fit.parts[static_cast<std::size_t>(part)] = {kStretches, kStretches, scatter_px, gain};
  fit.evidence += kStretches * std::log(gain);
}

Reading seen(double gain, double scatter_px) {
  Reading reading;
  for (const OutlinePart part : {OutlinePart::left, OutlinePart::right, OutlinePart::start, OutlinePart::end})
    see(reading.fit, part, gain, scatter_px);
  reading.support = 0.9;
  reading.ends_support = 0.8;
  return reading;
}

double odds(const Reading& reading) { return log_odds_of_blank(traits_of(reading, rod(), 0.7), rod().shape); }

TEST(Plausibility, TakesAnOutlineSharpAllRoundForTheBlank) { EXPECT_GT(odds(seen(30.0, 0.1)), log_odds(0.95)); }

TEST(Plausibility, DoesNotTakeEdgesThatHardlyStandOutAndDoNotLieInLine) {
  EXPECT_LT(odds(seen(2.0, 1.5)), log_odds(0.05));
}

TEST(Plausibility, FallsWhenAnEndIsNotSeen) {
  Reading reading = seen(30.0, 0.1);
  reading.fit.parts[static_cast<std::size_t>(OutlinePart::end)] = {5, 0, 0.0, 0.0};
  EXPECT_LT(odds(reading), odds(seen(30.0, 0.1)));
}

TEST(Plausibility, FallsWhenTheSidesContradictTheDeclaredSize) {
  Reading reading = seen(30.0, 0.1);
  reading.fit.girth_free_mm = 0.5;
  EXPECT_LT(odds(reading), odds(seen(30.0, 0.1)));
}

TEST(Plausibility, CallsASlotEmptyWhereNothingIsSeenAndNotWhereABlankIs) {
  Readings nothing;
  nothing.in_picture = true;
  EXPECT_GT(log_odds_of_empty(traits_of(nothing), rod().shape), log_odds(0.7));
  Readings loaded;
  loaded.in_picture = true;
  loaded.declared.push_back(seen(30.0, 0.1));
  loaded.declared.front().log_odds = odds(loaded.declared.front());
  loaded.support = 0.9;
  loaded.ends_support = 0.7;
  loaded.chance = 0.3;
  // a blank that is missed is left in doubt: well below the 0.7 it takes to be called empty
  EXPECT_LT(log_odds_of_empty(traits_of(loaded), rod().shape), log_odds(0.3));
}

TEST(Plausibility, LogOddsAreThoseOfTheDefinition) {
  EXPECT_DOUBLE_EQ(log_odds(0.5), 0.0);
  EXPECT_NEAR(log_odds(0.75), std::log(3.0), 1e-15);
}

}  // namespace
}  // namespace jigtrue
