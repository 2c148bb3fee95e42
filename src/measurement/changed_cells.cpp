#include "jigtrue/measurement/changed_cells.hpp"

#include "measurement/slot_regions.hpp"

namespace jigtrue {
namespace {

PartChange share_set(const cv::Mat1b& which, const cv::Mat1b& where) {
  PartChange change;
  int count = 0;
  for (int r = 0; r < which.rows; ++r)
    for (int c = 0; c < which.cols; ++c) {
      if (where(r, c) == 0) continue;
      ++change.cells;
      count += which(r, c);
    }
  if (change.cells > 0) change.share = static_cast<double>(count) / change.cells;
  return change;
}

}  // namespace

PartChange ChangedCells::within(const Polyline2d& outline_px) const {
  return share_set(changed, filled({outline_px}, cells));
}

PartChange ChangedCells::foreign_between(const Polyline2d& inner_px, const Polyline2d& outer_px) const {
  cv::Mat1b where = filled({outer_px}, cells);
  where.setTo(0, filled({inner_px}, cells));
  where.setTo(0, of_slots);
  return share_set(foreign, where);
}

PartChange ChangedCells::beside_slots() const { return share_set(changed, beside); }

}  // namespace jigtrue
