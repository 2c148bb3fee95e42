// What a slot's part of the picture may be read as: a blank of the declared size at some place, or of another size, or
// only the fixture's own edges. Each reading is measured closely, so that they can be weighed against each other.
#pragma once
#include "jigtrue/detection/coarse_search.hpp"
#include "jigtrue/detection/outline_evidence.hpp"

#include <array>
#include <vector>

namespace jigtrue {

struct Reading {
  OutlineFit fit;
  OutlineEvidence evidence{};
  bool declared_size = true;  // measured with the girth held near the declared one
  // Start, end: both sides run on beyond it, as a groove's edges do, or neither shows just inside it, as where a
  // pocket's wall was taken for the end.
  std::array<bool, 2> end_denied{};
  double two_materials = 0.0;  // two_materials_log_ratio
  double support = 0.0;        // of the sides in the coarse search, 0..1
  double ends_support = 0.0;   // of the ends there

  // Whether this part of the outline is seen: is_shown, and no end that is denied.
  [[nodiscard]] bool shown(OutlinePart part) const;
  [[nodiscard]] int parts_shown() const;
  [[nodiscard]] bool sides_shown() const { return shown(OutlinePart::left) && shown(OutlinePart::right); }
  // Of all parts together, as far as their stretches tell independently (kIndependentStretches each, on average).
  [[nodiscard]] double log_ratio() const;
  // By which readings of one slot are held against each other: the edges' log_ratio and what the surfaces say, as far
  // as that is to be trusted.
  [[nodiscard]] double weight_of_evidence() const;
};
// Paint, print, gloss and shade belong to surfaces, too. All parts lie in one light, so they tell as one of them does,
// and no more than three stretches of an edge.
inline constexpr double kSurfacesSay = 12.0;
// Log ratio of an outline in plain view: most of blanks' reach it, and another size may be claimed from it on.
inline constexpr double kPlainLogRatio = 40.0;

// How far ends may lie from where the declared length and its tolerance put them: they are rounded, chamfered, shaded.
inline constexpr double kEndForm_mm = 0.25;
[[nodiscard]] bool near_declared_length(const Blank& blank, double extra_mm);
// How far the girth may measure below and above the declared one before it counts as another size, mm.
struct GirthLimits {
  double below_mm = 0.0;
  double above_mm = 0.0;
};
[[nodiscard]] GirthLimits girth_limits(const Reading& reading, const Blank& blank);
[[nodiscard]] bool is_of_declared_girth(const Reading& reading, const Blank& blank);
[[nodiscard]] bool is_of_declared_size(const Reading& reading, const Blank& blank);

struct Readings {
  std::vector<Reading> declared;     // most evidence first
  std::vector<Reading> other_sizes;  // beside a certain declared one only what was seen about as well
  bool in_picture = false;
};

// `coarse`: what search_slot found there.
[[nodiscard]] Readings read_slot(const View& view, const CoarseFinding& coarse, const EdgeClutter& clutter);

}  // namespace jigtrue
