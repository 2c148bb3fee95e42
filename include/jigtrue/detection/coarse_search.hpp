// Where in its slot a blank seems to lie: pairs of edges that agree along their whole length, to about a pixel.
#pragma once
#include "jigtrue/detection/search_picture.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

struct SearchRange {
  double across_mm = 5.0;
  double along_mm = 6.0;
  double turn_deg = 3.0;
  // A blank of another diameter is looked for up to this share of the declared one, and as far as a slot has room.
  double girth_share = 0.45;
  double girth_mm = 12.0;
};

// Support of a whole outline by that of its sides and of its ends, to order by: a slim tip may hardly be seen.
[[nodiscard]] constexpr double whole_outline(double sides, double ends) { return sides * (0.3 + ends); }

// Support of a part of the outline: how well its samples agree that an edge stands there, 0 (none) to 1 (every sample
// sees a clear edge of the same sign and colour).
struct Candidate {
  BlankPlace place;
  double left = 0.0;
  double right = 0.0;
  double start = 0.0;
  double end = 0.0;
  // A pair of ends at another distance that stands out as well: the blank's length may be another.
  struct OtherEnds {
    double along_mm = 0.0;
    double length_mm = 0.0;
    double start = 0.0;
    double end = 0.0;
  };
  std::optional<OtherEnds> other_ends;
  // Further pairs about as far apart as declared, best first: a pocket's walls beside the blank's ends, a joint.
  std::vector<OtherEnds> like_ends;
  [[nodiscard]] double sides() const;  // geometric mean of left and right
  [[nodiscard]] double ends() const;   // geometric mean of start and end
  [[nodiscard]] double whole_outline() const { return jigtrue::whole_outline(sides(), ends()); }
};

// Support of the sides, and of a disc, from which on a candidate is measured closely.
inline constexpr double kLookedAtSupport = 0.25;

struct CoarseFinding {
  bool in_picture = false;             // enough of the outline at the expected place is, to look for it
  std::vector<Candidate> candidates;   // of the declared size, best first; distinct
  std::vector<Candidate> other_sizes;  // of other girths, best first
};

[[nodiscard]] CoarseFinding search_slot(const SearchPicture& picture, const Camera& camera, const Blank& blank,
                                        const Seat& seat, const BlankPlace& expected, const SearchRange& range);

}  // namespace jigtrue
