// Outlines of any size, and the sizes that most of them speak for.
#pragma once
#include "jigtrue/detection/propose_sizes.hpp"

#include <vector>

namespace jigtrue {

// What sizes blanks have that are engraved in jigs: common practice, no source.
struct UsualSizes {
  double slimmest_mm = 4.0;   // refills, dowels: slimmer ones have no room for a design
  double widest_mm = 40.0;    // of a round blank
  double largest_mm = 130.0;  // a coaster's girth, or a plate's
  double shortest_mm = 15.0;  // a shorter one takes no lettering
  double longest_mm = 330.0;  // a ruler of a foot, with its ends
};
inline constexpr UsualSizes kUsual;

// Of the plainest outline's support: what is fainter does not speak for a size.
inline constexpr double kAsPlain = 0.5;

// An outline somewhere, of some size.
struct SizedPlace {
  BlankPlace place;  // girth and length are the whole ones
  double support = 0.0;
};

struct SizeStep {
  double girth_mm = 0.0;  // within which two outlines count as of one size
  double length_mm = 0.0;
  [[nodiscard]] bool alike(const SizedPlace& a, const SizedPlace& b) const {
    return std::abs(a.place.girth_mm - b.place.girth_mm) <= girth_mm &&
           std::abs(a.place.length_mm - b.place.length_mm) <= length_mm;
  }
};

// Most support first, no two alike, a dozen at most. `places`: most support first.
[[nodiscard]] std::vector<ProposedSize> most_supported(const std::vector<SizedPlace>& places, const SizeStep& step);

}  // namespace jigtrue
