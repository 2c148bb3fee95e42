// Where on the whole bed blanks may lie: edges that run along a declared outline, at any place and turned any way, in a
// view from above at the height of that outline. Proposals only, to some millimetres and degrees, for the decision to
// judge.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/detection/bed_view.hpp"
#include "jigtrue/detection/edge_picture.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/image/photo.hpp"

#include <vector>

namespace jigtrue {

struct ProposedPlace {
  BlankPlace place;      // its girth is what it seems to have beside the declared one
  double support = 0.0;  // how well the outline is seen, as Candidate::whole_outline tells it: to order by
};

// How high a blank's outline lies, in the middle of its length.
[[nodiscard]] double outline_height_mm(const Blank& blank, const Seat& seat);

class BedSearch {
 public:
  BedSearch(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat, int threads);

  // Most support first, no two alike.
  [[nodiscard]] std::vector<ProposedPlace> declared() const;
  // The same for a girth larger by so much, to a cell of the view.
  [[nodiscard]] std::vector<ProposedPlace> of_girth(double more_mm) const;
  // Of other girths, as well; with headings given, only where they lie along one of those.
  [[nodiscard]] std::vector<ProposedPlace> other_sizes(const std::vector<double>& headings_rad) const;

 private:
  Blank blank_;
  int threads_;
  BedView view_;
  EdgePicture edges_;

  [[nodiscard]] std::vector<ProposedPlace> propose(const std::vector<int>& wider,
                                                   const std::vector<double>& headings_rad) const;
};

}  // namespace jigtrue
