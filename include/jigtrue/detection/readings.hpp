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
  double support = 0.0;       // of the sides in the coarse search, 0..1
  bool declared_size = true;  // girth held near the declared one
  // Share of the stretches just beyond the blank's ends where its sides seem to run on: what a groove's edges do and a
  // blank's do not.
  double runs_on = 0.0;
  double girth_free_mm = 0.0;   // girth that the same edges give without a prior
  double girth_sigma_mm = 0.0;  // of that, limbs included

  [[nodiscard]] bool side_seen(OutlinePart part) const;
  [[nodiscard]] bool end_seen(OutlinePart part) const;
  [[nodiscard]] bool sides_seen() const { return side_seen(OutlinePart::left) && side_seen(OutlinePart::right); }
  [[nodiscard]] bool an_end_seen() const { return end_seen(OutlinePart::start) || end_seen(OutlinePart::end); }
  [[nodiscard]] bool both_ends_seen() const { return end_seen(OutlinePart::start) && end_seen(OutlinePart::end); }
  [[nodiscard]] double evidence_per_block() const {
    return fit.blocks.empty() ? 0.0 : fit.evidence / static_cast<double>(fit.blocks.size());
  }
};

// A blank of the declared size, its outline clear and consistent on both sides and at one end at least.
[[nodiscard]] bool is_clear(const Reading& reading, const Blank& blank);
// Another size is claimed only on a whole and sharp outline: both sides, both ends, none of it the fixture's own.
[[nodiscard]] bool is_another_size(const Reading& reading, const Blank& blank);
// How far the girth may measure from the declared one before it counts as another size, mm.
[[nodiscard]] double girth_limit_mm(const Reading& reading, const Blank& blank);

struct Readings {
  std::vector<Reading> declared;     // best first
  std::vector<Reading> other_sizes;  // best first; looked for only when none of the declared size is clear
  double support = 0.0;              // largest of any candidate, measured closely or not
  double ends_support = 0.0;         // of both ends together, near where they are expected
  double chance = 0.0;
  bool in_picture = false;
};

[[nodiscard]] Readings read_slot(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat,
                                 const BlankPlace& expected, const SearchRange& range, const PictureBlur& blur,
                                 EdgeModelStore& models);

}  // namespace jigtrue
