// What a load shows that its empty jig does not, cell by cell.
#pragma once
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/measurement/picture_cells.hpp"

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// How much of a part of the picture has changed since the empty photo in more than its light: 0 (nothing) to 1.
struct PartChange {
  double share = 0.0;
  int cells = 0;  // that it was told from, of ChangedCells::kSide_mm a side
};

// A mask each, one value a cell, 1 or 0.
struct ChangedCells {
  static constexpr double kSide_mm = 3.0;  // of a cell: some dozen pixels tell its light, a dozen cells a pen

  PictureCells cells;  // of the picture in which both photos were compared
  cv::Mat1b changed;
  cv::Mat1b foreign;   // changed in a way that neither shadow nor light of a blank explains
  cv::Mat1b of_slots;  // where a blank of a slot may lie
  cv::Mat1b beside;    // between these

  // Within a closed outline, px of the load.
  [[nodiscard]] PartChange within(const Polyline2d& outline_px) const;
  // Foreign to the load, between two closed outlines, the outer one beyond the inner one, leaving out all slots' own
  // parts: what lies beside a slot and was not there.
  [[nodiscard]] PartChange foreign_between(const Polyline2d& inner_px, const Polyline2d& outer_px) const;
  // Among all slots, beside them.
  [[nodiscard]] PartChange beside_slots() const;
};

}  // namespace jigtrue
