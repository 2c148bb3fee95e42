// What a slot's part of the picture may be read as: a blank of the declared size at some place, or of another size, or
// only the fixture's own edges. Each reading is measured closely, so that they can be weighed against each other.
#pragma once
#include "jigtrue/detection/coarse_search.hpp"
#include "jigtrue/detection/outline_fit.hpp"

#include <vector>

namespace jigtrue {

// An end that its stretches agree on.
[[nodiscard]] bool end_is_seen(const PartQuality& end);

struct Reading {
  OutlineFit fit;
  double support = 0.0;             // of the sides in the coarse search, 0..1
  double ends_support = 0.0;        // of the ends there
  bool declared_size = true;        // girth held near the declared one
  bool of_declared_length = false;  // looked for at that length only: says nothing of another
  // Share of the stretches just beyond the blank's ends where its sides seem to run on: what a groove's edges do and a
  // blank's do not.
  double runs_on = 0.0;
  bool stops_short = false;       // neither side shows just inside one of the ends
  double log_odds = 0.0;          // of being the blank, see plausibility.hpp
  std::optional<double> corners;  // see corners_on_outline

  [[nodiscard]] bool end_seen(OutlinePart part) const;
  [[nodiscard]] bool both_ends_seen() const { return end_seen(OutlinePart::start) && end_seen(OutlinePart::end); }
  [[nodiscard]] double evidence_per_block() const {
    return fit.blocks.empty() ? 0.0 : fit.evidence / static_cast<double>(fit.blocks.size());
  }
};

// A blank of the declared size, to be taken for found.
[[nodiscard]] bool is_clear(const Reading& reading, const Blank& blank);
// Another size is claimed only on a whole and sharp outline: both sides, both ends, none of it the fixture's own.
[[nodiscard]] bool is_another_size(const Reading& reading, const Blank& blank);
// How plainly a reading's two ends are seen, 0 (one of them not at all) to 1 (all stretches of both sharp and in line).
// What tells a blank from its empty slot: the slot's edges run along it too, but hardly end as a blank does.
[[nodiscard]] double ends_quality(const Reading& reading);
// The largest log odds; minus infinity where there is no reading.
[[nodiscard]] double likeliest(const std::vector<Reading>& readings);
// How far the girth may measure from the declared one before it counts as another size, mm.
[[nodiscard]] double girth_limit_mm(const Reading& reading, const Blank& blank);

// From where on a girth is another size, not a poor measurement of the declared one, mm off it.
[[nodiscard]] double other_girth_from_mm(const Reading& reading, const Blank& blank);

struct Readings {
  std::vector<Reading> declared;     // best first
  std::vector<Reading> other_sizes;  // best first; beside a clear declared one only what was seen about as well
  double support = 0.0;              // largest of any candidate, measured closely or not
  double ends_support = 0.0;         // of both ends together, near where they are expected
  double chance = 0.0;
  bool in_picture = false;
};

// Whether to stop at a reading that is certain, and to leave out what can hardly stand against another; the weights are
// fitted to all.
enum class HowMany { until_certain, all };

// `coarse`: what search_slot found there.
[[nodiscard]] Readings read_slot(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                 const CoarseFinding& coarse, const PictureBlur& blur, EdgeModelStore& models,
                                 HowMany how_many = HowMany::until_certain);

}  // namespace jigtrue
