// What a load shows that its empty jig does not, cell by cell.
#pragma once
#include "jigtrue/measurement/picture_cells.hpp"

#include "measurement/compared_photos.hpp"

namespace jigtrue::registration {

// A mask each, one value a cell, 1 or 0.
struct ChangedCells {
  PictureCells cells;
  cv::Mat1b changed;
  cv::Mat1b foreign;   // changed in a way that neither shadow nor light of a blank explains
  cv::Mat1b of_slots;  // where a blank of a slot may lie
  cv::Mat1b beside;    // between these
};
// `place_sigma_px`: how well the photos lie on each other, in the photo's px.
[[nodiscard]] ChangedCells changed_cells(const PlanePair& pair, const SlotRegions& regions, const Level& level,
                                         const Compared& compared, double place_sigma_px);

}  // namespace jigtrue::registration
