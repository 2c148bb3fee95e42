// Clipping by areas: what an SVG clip-path or a nested viewport leaves of a shape. Private to this layer.
#pragma once
#include "jigtrue/layout/artwork.hpp"

#include <memory>
#include <vector>

namespace jigtrue::svg {

// What clipping one drawing may cost, all its clips together; spent as it goes.
struct ClipBudget {
  std::size_t points = 4'000'000;
  std::size_t looks = 100'000'000;
  std::size_t overlaps = 2'000'000;
};

// An area of the page, in mm. Curves are flattened to within 0.001 mm. Throws InputError when the
// budget is spent.
class ClipRegion {
 public:
  void add(const std::vector<SubPath>& outline, bool even_odd, ClipBudget& budget);  // the union of all that is added
  void intersect(const ClipRegion& other, ClipBudget& budget);

  // The shape's part inside: fills and strokes are cut apart, since a cut fill gains edges that carry no stroke.
  [[nodiscard]] std::vector<InkShape> cut(const InkShape& shape, ClipBudget& budget) const;
  [[nodiscard]] InkBox bounds() const;

 private:
  std::vector<Polyline2d> area_;  // non-zero winding
};

}  // namespace jigtrue::svg
